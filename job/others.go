package job

import (
	"context"
	"fmt"
	"slices"
	"time"

	"halforder/engine"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

// OthersQuestion asks, when the part of a kind at a cylinder is renewed, whether
// to renew the others within reach too. Ages are in kilometres, money in the
// workshop's currency; 0 takes the card's or the catalogue's figure.
type OthersQuestion struct {
	Kind     fault.PartKind
	At       engine.Cylinder
	Age      float64 // of the others; 0: the car's distance
	Horizon  float64 // within which a failure comes back to this workshop
	Interval float64 // at which they are renewed anyway; 0: when they fail
	Price    float64 // of one part
	Rate     float64 // of an hour
	Comeback float64 // loss when the car comes back
	Chance   float64 // of one to fail within Horizon, where no life is known; 0: unknown
	Life     plan.Weibull
}

// OthersAnswer is one part or the set, in money.
type OthersAnswer struct {
	Reach    []engine.Cylinder `json:"reach"` // of the others
	Known    bool              `json:"known"` // something says how likely they fail; else only the break-even counts
	Set      *plan.SetAnswer   `json:"set,omitempty"`
	Due      *plan.DueAnswer   `json:"due,omitempty"` // of parts with an interval
	Life     *plan.Weibull     `json:"life,omitempty"`
	Median   float64           `json:"median,omitempty"`   // age by which half have failed
	RenewAt  float64           `json:"renew_at,omitempty"` // age at which a part that still works is best renewed; 0: when it fails
	Cost     float64           `json:"cost,omitempty"`     // a kilometre, so renewed
	RunCost  float64           `json:"run_cost,omitempty"` // a kilometre, run to failure
	Horizon  float64           `json:"horizon"`            // kilometres
	Sentence string            `json:"sentence"`
}

// furtherShare is the time of each further part against the first, while the way
// is open: the trade's hours for a set of coils and for one (0.5 against 0.3 to
// 0.6 on a four), judgement.
const furtherShare = 0.25

// Others answers the question in money, with the break-even.
func (c *Card) Others(cat *fault.Catalogue, q OthersQuestion) (OthersAnswer, error) {
	r, err := c.renewalOf(cat, q)
	if err != nil {
		return OthersAnswer{}, err
	}
	q = q.filled(c, cat, r)
	hour := func(minutes float64) float64 { return minutes / 60 * q.Rate }
	visit := r.MinutesEasy
	if c.Car().HardAt(q.At) {
		visit = r.MinutesHard
	}
	further := furtherShare * r.MinutesEasy
	out := OthersAnswer{Reach: c.othersInReach(q.Kind, q.At), Horizon: q.Horizon, Known: q.Life != (plan.Weibull{}) || q.Chance > 0}
	if q.Interval > 0 {
		due, err := plan.RenewDue(plan.DueCase{Kind: string(q.Kind), Parts: len(out.Reach) + 1, Age: q.Age, Interval: q.Interval,
			Price: q.Price, Labour: hour(further), Visit: hour(visit - further)})
		out.Due, out.Sentence, out.Known = &due, due.Sentence, true
		return out, err
	}
	set := plan.SetCase{Kind: string(q.Kind), Others: len(out.Reach), Age: q.Age, Horizon: q.Horizon, Life: q.Life, Chance: q.Chance,
		Price: q.Price, Labour: hour(further), Access: hour(visit - further), Comeback: q.Comeback}
	if err := out.weigh(set); err != nil {
		return out, err
	}
	return out, out.service(q, q.Price+hour(visit))
}

func (q OthersQuestion) filled(c *Card, cat *fault.Catalogue, r *fault.Repair) OthersQuestion {
	orElse := func(v *float64, other float64) {
		if *v == 0 {
			*v = other
		}
	}
	orElse(&q.Age, float64(c.Opened.Km))
	orElse(&q.Price, r.Parts)
	orElse(&q.Rate, cat.Setting("rate"))
	orElse(&q.Comeback, cat.Setting("comeback"))
	return q
}

// renewalOf is the repair that renews the part, once all is known to exist.
func (c *Card) renewalOf(cat *fault.Catalogue, q OthersQuestion) (*fault.Repair, error) {
	if err := c.Layout().Check(q.At); err != nil {
		return nil, err
	}
	if c.Seating.At(q.Kind, q.At) == "" {
		return nil, fmt.Errorf("this car has no %s at cylinder %d", q.Kind, q.At)
	}
	for _, r := range cat.Repairs() {
		if string(r.Renews) == string(q.Kind) && r.Fits(c.Opened.Ignition, c.Opened.Injection) {
			return r, nil
		}
	}
	return nil, fmt.Errorf("no repair of the list renews a %s: prices and times are missing", q.Kind)
}

// othersInReach are the cylinders whose part of a kind came with the car, is not
// the one at the cylinder, and is reached by the same way: from under a cover that
// is off, those under it; in the open, all in the open. A part that serves several cylinders is named once.
func (c *Card) othersInReach(kind fault.PartKind, at engine.Cylinder) []engine.Cylinder {
	car, l := c.Car(), c.Layout()
	first := fault.FirstSeating(l, c.Opened.Ignition, c.Opened.Injection)
	seen := []fault.PartID{c.Seating.At(kind, at)}
	var out []engine.Cylinder
	for _, d := range l.Cylinders() {
		id := c.Seating.At(kind, d)
		reached := car.HardAt(d) == car.HardAt(at) && (!car.HardAt(at) || l.Bank(at) == l.Bank(d))
		if slices.Contains(seen, id) || !slices.Contains(first[kind], id) || !reached {
			continue
		}
		seen, out = append(seen, id), append(out, d)
	}
	return out
}

// weigh compares now with later. Without any record of lives only the break-even
// can be told.
func (a *OthersAnswer) weigh(set plan.SetCase) error {
	answer, err := plan.OneOrSet(set)
	if err != nil {
		return err
	}
	a.Set, a.Sentence = &answer, answer.Sentence
	if a.Known || set.Others == 0 {
		return nil
	}
	answer.All = false
	a.Sentence = fmt.Sprintf("Cannot tell which is cheaper: no record says how often a %s fails within %.0f km. The other %d would cost %.0f now, one that fails later %.0f. All pay from a chance of %.0f %% each.",
		set.Kind, set.Horizon, set.Others, answer.Now, set.Price+set.Labour+set.Access+set.Comeback, 100*answer.BreakEven)
	return nil
}

// service says when parts of a known life are best renewed before they fail.
func (a *OthersAnswer) service(q OthersQuestion, planned float64) error {
	if q.Life == (plan.Weibull{}) {
		return nil
	}
	r, err := q.Life.ReplaceAt(planned, planned+q.Comeback)
	if err != nil {
		return err
	}
	life := q.Life
	a.Life, a.Median, a.Cost, a.RunCost = &life, life.Quantile(0.5), r.Rate, r.RunRate
	if r.Age < life.Quantile(0.999) { // later than that is when it fails
		a.RenewAt = r.Age
	}
	return nil
}

// Lives are the ages, in kilometres, to which parts of a kind came in the jobs
// closed before a moment: the one that was proven to have failed, and those beside
// it that had not. It takes the parts to be the car's first; parts with an
// interval are not, so none are given for plugs.
func (b Book) Lives(ctx context.Context, cat *fault.Catalogue, kind fault.PartKind, before time.Time) ([]plan.Life, error) {
	var out []plan.Life
	if kind != fault.Coil && kind != fault.Injector {
		return nil, nil
	}
	err := b.closedBefore(ctx, before, func(c *Card) {
		cause, err := cat.Cause(c.Closing.What.Code)
		if err != nil || c.Opened.Km <= 0 {
			return
		}
		first := fault.FirstSeating(c.Layout(), c.Opened.Ignition, c.Opened.Injection)[kind]
		n, age := float64(countDistinct(first)), float64(c.Opened.Km)
		if n > 0 && string(cause.Lives) == string(kind) {
			out = append(out, plan.Life{Age: age, Failed: true})
			n--
		}
		if n > 0 {
			out = append(out, plan.Life{Age: age, Count: n})
		}
	})
	return out, err
}

func countDistinct(ids []fault.PartID) int {
	sorted := slices.Sorted(slices.Values(ids))
	return len(slices.Compact(sorted))
}
