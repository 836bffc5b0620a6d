package web

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/fault"
	"halforder/web/guard"
)

// choice is one answer to tap.
type choice struct {
	Value, Words, Note string
	On                 bool
}

// enginesOf are the known engines of a number of cylinders.
type enginesOf struct {
	N       int
	Engines []knownEngine
}

type knownEngine struct {
	Name    string
	Drawing drawing
}

type intakeData struct {
	Engines    []enginesOf
	Complaints []choice
	Regimes    []choice
	Lamps      []choice
	Ignitions  []choice
	Injections []choice
	Since      []choice
}

func (b *Bench) newPage(w http.ResponseWriter, r *http.Request) error {
	p := b.page(r, "New job")
	p.Data, p.Scripts = b.intakeChoices(), []string{"intake.js"}
	return b.show(w, "new", p)
}

func (b *Bench) intakeChoices() intakeData {
	v := intakeData{Engines: knownEngines()}
	for _, c := range fault.Complaints() {
		v.Complaints = append(v.Complaints, choice{Value: string(c), Words: b.Catalogue.Complaint(c).Title, On: c == fault.Rough})
	}
	for _, r := range fault.Regimes() {
		v.Regimes = append(v.Regimes, choice{Value: string(r), Words: regimeWords(r), On: r == fault.Idle})
	}
	v.Lamps = []choice{{"", "not known", "", true}, {"off", "off", "", false}, {"steady", "steady", "", false}, {"flashing", "flashing", "do not drive it", false}}
	for _, i := range fault.Ignitions() {
		v.Ignitions = append(v.Ignitions, choice{Value: string(i), Words: ignitionWords[i], On: i == fault.CoilOnPlug})
	}
	for _, i := range fault.Injections() {
		v.Injections = append(v.Injections, choice{Value: string(i), Words: injectionWords[i], On: i == fault.Port})
	}
	for _, s := range []string{"today", "some days", "more than a week", "months", "came suddenly", "grew slowly"} {
		v.Since = append(v.Since, choice{Value: s, Words: s})
	}
	return v
}

// regimeWords says when, as a person at the counter would.
func regimeWords(r fault.Regime) string {
	return map[fault.Regime]string{fault.Any: "at any time", fault.Idle: "warm, at idle", fault.Cold: "after a cold start",
		fault.Hot: "when hot", fault.Loaded: "when pulling", fault.Wet: "in the wet"}[r]
}

var ignitionWords = map[fault.Ignition]string{
	fault.CoilOnPlug: "a coil on each plug, two wires", fault.SmartCoil: "a coil on each plug, three or four wires",
	fault.Cassette: "one rail of coils", fault.NearPlug: "a coil each, short leads", fault.WastedSpark: "a coil for each pair, leads",
	fault.Distributor: "distributor", fault.TwinPlug: "two plugs a cylinder",
}

var injectionWords = map[fault.Injection]string{
	fault.Port: "into the port", fault.Direct: "direct", fault.Both: "both",
}

func knownEngines() []enginesOf {
	var out []enginesOf
	for _, g := range engine.Generics() {
		n := g.Layout.N()
		if len(out) == 0 || out[len(out)-1].N != n {
			at := -1
			for i := range out {
				if out[i].N == n {
					at = i
				}
			}
			if at >= 0 {
				out[at].Engines = append(out[at].Engines, knownEngine{g.Layout.String(), draw(g.Layout)})
				continue
			}
			out = append(out, enginesOf{N: n})
		}
		last := &out[len(out)-1]
		last.Engines = append(last.Engines, knownEngine{g.Layout.String(), draw(g.Layout)})
	}
	slices.SortStableFunc(out, func(a, b enginesOf) int { return cmp.Compare(rare(a.N), rare(b.N)) })
	return out
}

// rare puts engines that seldom come last: one and two cylinders.
func rare(n int) int {
	if n < 3 {
		return 100 + n
	}
	return n
}

// enginePart draws an engine that was typed.
func (b *Bench) enginePart(w http.ResponseWriter, r *http.Request) error {
	l, err := engine.Parse(r.FormValue("layout"))
	if err != nil {
		return badInput(err)
	}
	p := b.page(r, "Engine")
	p.Data = draw(l)
	return b.show(w, "engine", p)
}

func (b *Bench) newJob(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return badInput(err)
	}
	opened, err := f.opened()
	if err != nil {
		return badInput(err)
	}
	codes, err := f.codes(opened.Engine)
	if err != nil {
		return badInput(err)
	}
	s, _ := guard.Of(r)
	card, err := b.book.Open(r.Context(), s.Name, *opened)
	if err != nil {
		return err
	}
	if bodies := f.told(card, codes); len(bodies) > 0 {
		if card, err = b.book.Add(r.Context(), card.ID, s.Name, bodies...); err != nil {
			return err
		}
	}
	http.Redirect(w, r, fmt.Sprintf("/jobs/%d", card.ID), http.StatusSeeOther)
	return nil
}

func (f form) opened() (*job.Opened, error) {
	typed := f.text("engine")
	if own := f.text("engine_own"); own != "" {
		typed = own
	}
	if typed == "" {
		return nil, errors.New("say which engine it has: choose one, or type its firing order")
	}
	layout, err1 := engine.Parse(typed)
	ignition, err2 := fault.ParseIgnition(f.text("ignition"))
	injection, err3 := fault.ParseInjection(f.text("injection"))
	complaint, err4 := fault.ParseComplaint(f.text("complaint"))
	regime, err5 := fault.ParseRegime(f.text("regime"))
	km, err6 := f.whole("km")
	every, err7 := f.number("every_min")
	if err := errors.Join(err1, err2, err3, err4, err5, err6, err7); err != nil {
		return nil, err
	}
	o := &job.Opened{Car: f.text("car"), Customer: f.text("customer"), Km: km, Engine: layout, Ignition: ignition, Injection: injection,
		Access: fault.Easy, Complaint: complaint, Regime: regime, Words: f.text("words"), EveryS: 60 * every, Hybrid: f.text("hybrid") != ""}
	for _, l := range job.Lamps() {
		if string(l) == f.text("lamp") {
			o.Lamp = l
		}
	}
	return o, f.access(o)
}

// access reads which cylinders are hard to reach: none, all, or a bank.
func (f form) access(o *job.Opened) error {
	switch text := f.text("access"); text {
	case "", "easy":
	case "hard":
		o.Access = fault.Hard
	default:
		var n int
		if _, err := fmt.Sscanf(text, "bank %d", &n); err != nil || n < 1 || n > len(o.Engine.Banks()) {
			return fmt.Errorf("access %q: this engine has %d banks", text, len(o.Engine.Banks()))
		}
		o.Hard = o.Engine.Banks()[n-1]
	}
	return nil
}

// told is what the customer and the car told beside the complaint itself.
func (f form) told(card *job.Card, codes []string) []job.Body {
	var out []job.Body
	if codes != nil {
		out = append(out, &job.Coded{Codes: codes})
	}
	if since := f.Form["since"]; len(since) > 0 {
		out = append(out, &job.Noted{Text: "Since: " + strings.Join(since[:min(len(since), 4)], ", ")})
	}
	for _, q := range []struct{ field, words string }{{"recent", "Recent work: "}, {"tried", "Tried before: "}} {
		if text := f.text(q.field); text != "" {
			out = append(out, &job.Noted{Text: q.words + text})
		}
	}
	if f.text("numbered") != "" {
		out = append(out, &job.Numbered{Engine: card.Layout()})
	}
	return out
}

func (b *Bench) confirmNumbering(w http.ResponseWriter, r *http.Request) error {
	card, err := b.card(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return badInput(err)
	}
	layout := card.Layout()
	if own := f.text("engine_own"); own != "" {
		if layout, err = engine.Parse(own); err != nil {
			return badInput(err)
		}
	}
	return b.enter(w, r, card.ID, "", &job.Numbered{Engine: layout})
}
