package exercise

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/practice"
)

// RatePerMinute is what a minute in the bay costs, in money: 120 an hour
// (trade practice: 110–170).
const RatePerMinute = 2.0

// Exercise is one hidden fault and the technician's work on it.
type Exercise struct {
	Layout    engine.Layout
	Complaint string // key of the complaint: dead, flicker, load or rough
	Story     string // what the customer says
	Buried    bool   // coils and plugs sit under the plenum

	Minutes, Money float64 // spent so far
	Done           []Entry

	seed    uint64
	hidden  suspect
	at      engine.Cylinder
	bay     *bay
	access  access
	over    bool
	planned *planner
}

// Entry is one order with what it cost and gave.
type Entry struct {
	Order          string
	Minutes, Money float64
	Answer         string
}

// stories are the complaints as customers put them.
var stories = map[string]string{
	"dead":    "It shakes at idle all the time, warm or cold, and the lamp came on. It has no strength.",
	"flicker": "It stumbles now and then. Sometimes it runs well for a while, then it shakes again.",
	"load":    "At the lights it is fine. When I overtake or climb it bucks and has no strength.",
	"rough":   "It idles badly. No idea which part of it; it just is not smooth any more.",
}

// Complaints lists the keys a new exercise can be asked for.
func Complaints() []string { return []string{"dead", "flicker", "load", "rough"} }

// New hides a fault chosen by the seed. An empty complaint lets the seed choose
// that, too.
func New(seed uint64, layout engine.Layout, complaint string, buried bool) (*Exercise, error) {
	if !layout.Valid() || layout.N() < 3 {
		return nil, fmt.Errorf("exercise: an engine of at least three cylinders is needed")
	}
	roll := practice.NewDice(seed, "exercise")
	if complaint == "" {
		complaint = Complaints()[roll.Below(len(Complaints()))]
	}
	if stories[complaint] == "" {
		return nil, fmt.Errorf("exercise: complaint %q is unknown, expected one of %s", complaint, strings.Join(Complaints(), ", "))
	}
	x := &Exercise{Layout: layout, Complaint: complaint, Story: stories[complaint], Buried: buried, seed: seed, access: access{buried: buried}}
	x.hidden = draw(suspectsOf(complaint), roll.Unit())
	x.at = engine.Cylinder(1 + roll.Below(layout.N()))
	var err error
	x.bay, err = newBay(seed, layout, x.hidden, x.at)
	return x, err
}

func suspectsOf(complaint string) (out []suspect) {
	for _, s := range data().suspects {
		if s.complaint == complaint {
			out = append(out, s)
		}
	}
	return out
}

func draw(from []suspect, u float64) suspect {
	var total float64
	for _, s := range from {
		total += s.weight
	}
	for _, s := range from {
		if u -= s.weight / total; u < 0 {
			return s
		}
	}
	return from[len(from)-1]
}

// newBay brings the car in: warm, engine off, driven a little before.
func newBay(seed uint64, layout engine.Layout, hidden suspect, at engine.Cylinder) (*bay, error) {
	cfg := practice.Defaults(layout)
	cfg.Seed, cfg.Running, cfg.CoolantC = seed, false, 86
	cfg.Faults = []practice.Fault{hidden.at(int(at))}
	e, err := practice.New(cfg, practice.Sensors{})
	return &bay{e: e, layout: layout, build: cfg.Build}, err
}

// Menu lists the checks with their price on this engine.
func (x *Exercise) Menu() []Offer {
	out := slices.Clone(data().offers)
	for i := range out {
		out[i].Minutes = x.access.minutes(out[i].easy, out[i].buried)
	}
	return out
}

// Order does what the technician asks: a check with its cylinder ("codes",
// "plug 3"), a repair ("renew coil 3", "mend plenum-leak 0"), or a change of
// parts that stays ("swap coil 3 1"). The error says what was wrong with the
// order; nothing is charged then.
func (x *Exercise) Order(line string) (Entry, error) {
	if x.over {
		return Entry{}, fmt.Errorf("the case is closed")
	}
	words := strings.Fields(strings.ToLower(line))
	if len(words) == 0 {
		return Entry{}, fmt.Errorf("an order is needed: a check from the menu, renew, mend or swap")
	}
	var entry Entry
	var err error
	switch words[0] {
	case "renew", "mend", "swap":
		entry, err = x.work(words)
	default:
		entry, err = x.check(words)
	}
	if err != nil {
		return Entry{}, err
	}
	entry.Order = strings.Join(words, " ")
	x.Minutes, x.Money = x.Minutes+entry.Minutes, x.Money+entry.Money
	x.Done = append(x.Done, entry)
	return entry, nil
}

func offerNamed(name string) (Offer, bool) {
	i := slices.IndexFunc(data().offers, func(o Offer) bool { return o.Name == name })
	if i < 0 {
		return Offer{}, false
	}
	return data().offers[i], true
}

func (x *Exercise) check(words []string) (Entry, error) {
	offer, ok := offerNamed(words[0])
	if !ok {
		return Entry{}, fmt.Errorf("%q is not on the menu", words[0])
	}
	c, err := x.cylinderOf(offer, words)
	if err != nil {
		return Entry{}, err
	}
	r, err := x.bay.perform(offer, c)
	if err != nil {
		return Entry{}, err
	}
	if offer.Name == driven {
		x.access.open = false
	}
	return Entry{Minutes: x.takes(offer.easy, offer.buried), Money: offer.Money, Answer: r.text}, nil
}

// driven is the check for which the car is put together.
const driven = "road"

func (x *Exercise) cylinderOf(offer Offer, words []string) (engine.Cylinder, error) {
	if !offer.PerCylinder {
		if len(words) > 1 {
			return 0, fmt.Errorf("%s concerns the whole engine, leave out %q", offer.Name, words[1])
		}
		return 0, nil
	}
	x.bay.mate = 0
	if strings.HasPrefix(offer.Name, "swap-") && len(words) == 3 {
		mate, err := x.cylinder(words[2])
		if err != nil {
			return 0, err
		}
		x.bay.mate, words = mate, words[:2]
	}
	if len(words) != 2 {
		return 0, fmt.Errorf("%s needs a cylinder, for instance %q", offer.Name, offer.Name+" 2")
	}
	return x.cylinder(words[1])
}

func (x *Exercise) cylinder(word string) (engine.Cylinder, error) {
	n, err := strconv.Atoi(word)
	if err != nil {
		return 0, fmt.Errorf("%q is not a cylinder number", word)
	}
	return engine.Cylinder(n), x.Layout.Check(engine.Cylinder(n))
}

func (b *bay) perform(o Offer, c engine.Cylinder) (result, error) {
	if o.PerCylinder {
		return single[o.Name](b, c)
	}
	return whole[o.Name](b), nil
}

// work renews, mends or swaps for good.
func (x *Exercise) work(words []string) (Entry, error) {
	x.bay.off()
	if err := x.bay.e.Do(practice.Action(strings.Join(words, " "))); err != nil {
		return Entry{}, err
	}
	x.bay.missed = nil
	if words[0] == "swap" {
		offer, _ := offerNamed("swap-" + words[1])
		return Entry{Minutes: x.takes(offer.easy, offer.buried) / 2, Answer: "Changed."}, nil
	}
	r := repairNamed(words[0] + " " + words[1])
	times := 1.0
	if words[2] == "all" {
		times = float64(x.Layout.N())
	}
	return Entry{Minutes: x.takes(r.easy, r.buried), Money: times * r.payment, Answer: "Done."}, nil
}

func repairNamed(action string) repair {
	for _, r := range data().repairs {
		if r.action == action {
			return r
		}
	}
	return repair{action: action, easy: 120, buried: 180, payment: 200} // a repair no complaint here calls for
}

// takes is the time of something done now, and leaves the way as it then is.
func (x *Exercise) takes(easy, buried float64) float64 {
	minutes := x.access.minutes(easy, buried)
	x.access = x.access.after(easy, buried)
	return minutes
}

// Record lets the engine idle for some seconds with the usual sensors on, for
// the technician's own analysis; it costs three minutes.
func (x *Exercise) Record(seconds float64) (practice.Recording, practice.Config, error) {
	if x.over {
		return practice.Recording{}, practice.Config{}, fmt.Errorf("the case is closed")
	}
	if !(seconds >= 1 && seconds <= 300) {
		return practice.Recording{}, practice.Config{}, fmt.Errorf("a recording lasts 1 to 300 s, not %g", seconds)
	}
	if !x.bay.idle() {
		return practice.Recording{}, practice.Config{}, fmt.Errorf("the engine does not keep running")
	}
	x.bay.wait(3)
	want := practice.Everything()
	want.Pressure = nil
	rec := x.bay.listen(want, seconds)
	rec.Computer = nil // reading codes is a check of its own
	entry := Entry{Order: fmt.Sprintf("record %g", seconds), Minutes: 3, Answer: "Recorded."}
	x.Minutes += entry.Minutes
	x.Done = append(x.Done, entry)
	return rec, practice.Defaults(x.Layout), nil
}

// Bill is minutes and money in one sum.
func Bill(minutes, money float64) float64 { return minutes*RatePerMinute + money }
