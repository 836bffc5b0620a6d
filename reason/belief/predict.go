package belief

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"halforder/reason/fault"
)

// Predict gives for each answer its chance in each world.
func (o *Outlook) Predict(q Question) ([]Answer, error) {
	o.b.m.predictions.Lock()
	defer o.b.m.predictions.Unlock()
	p, err := o.prediction(&q)
	if err != nil {
		return nil, err
	}
	answers := slices.Clone(p.answers)
	for a := range answers {
		answers[a].Chances = make([]float64, len(o.worlds))
	}
	for i, w := range o.worlds {
		for a, chance := range p.at(w.Faults) {
			answers[a].Chances[i] = chance
		}
	}
	return answers, nil
}

// predictions remembers what was predicted of a car: as long as nothing moves,
// the same questions are asked at every step.
type predictions struct {
	sync.Mutex
	by map[string]*prediction
}

// mostPredictions bounds the memory taken.
const mostPredictions = 500

func (o *Outlook) prediction(q *Question) (*prediction, error) {
	all := &o.b.m.predictions
	name := fmt.Sprint(*q, o.name)
	if p, ok := all.by[name]; ok {
		return p, nil
	}
	p, err := o.newPrediction(q)
	if err != nil {
		return nil, err
	}
	if all.by == nil || len(all.by) >= mostPredictions {
		all.by = map[string]*prediction{}
	}
	all.by[name] = p
	return p, nil
}

func (o *Outlook) newPrediction(q *Question) (*prediction, error) {
	e := Evidence{Seating: o.at.Seating, Mended: o.at.Mended, Regime: o.at.Regime, Miss: o.at.Miss}
	if q.Regime != "" && q.Regime != o.at.Regime {
		e.Regime, e.Miss = q.Regime, Unknown
	}
	k, err := o.b.m.cat.Check(q.Check)
	switch {
	case err != nil:
		return nil, err
	case k.Swaps != "":
		return o.swapPrediction(q, k, e)
	}
	e.Reading = &Reading{q.Check, q.Cylinders, k.Outcomes[0].Code}
	s, err := newReadingSight(o.b.m, &e, o.touched, 1)
	if err != nil {
		return nil, err
	}
	if q.Sweep {
		return newPrediction(o.b.m, s, sweepAnswers(s), s.sweep), nil
	}
	var answers []Answer
	for _, x := range k.Outcomes {
		answers = append(answers, Answer{Code: x.Code})
	}
	return newPrediction(o.b.m, s, answers, s.distribution), nil
}

func (o *Outlook) swapPrediction(q *Question, k *fault.Check, e Evidence) (*prediction, error) {
	if len(q.Cylinders) != 2 {
		return nil, fmt.Errorf("check %q: a swap needs two cylinders, got %d", k.Code, len(q.Cylinders))
	}
	e.Swap = &Swap{Kind: k.Swaps, Along: q.Along, A: q.Cylinders[0], B: q.Cylinders[1], Before: q.Seconds, After: q.Seconds}
	s, err := newSwapSight(o.b.m, &e, o.touched)
	if err != nil {
		return nil, err
	}
	var answers []Answer
	for _, x := range FollowValues() {
		answers = append(answers, Answer{Code: string(x)})
	}
	return newPrediction(o.b.m, s, answers, func(effects []effect) []float64 {
		out := make([]float64, len(answers))
		for i, x := range FollowValues() {
			e.Swap.Outcome = x
			out[i] = math.Exp(s.logLik(effects))
		}
		return out
	}), nil
}

// sweepAnswers are the answers of looking at several cylinders: all normal, one
// that differs (which and how), or several that differ.
func sweepAnswers(s *readingSight) []Answer {
	outcomes := s.check.Outcomes
	answers := []Answer{{Code: outcomes[0].Code}}
	for _, u := range s.units {
		for _, o := range outcomes[1:] {
			answers = append(answers, Answer{Code: o.Code, Cylinder: u.cylinders()[0]})
		}
	}
	return append(answers, Answer{Code: "several", Several: true})
}

// prediction evaluates a sighting once per set of effects, as they are met.
type prediction struct {
	s       sighting
	answers []Answer // without chances
	chances func([]effect) []float64
	classes classes
	index   map[effect]int32
	known   map[triple][]float64
}

func newPrediction(m *model, s sighting, answers []Answer, chances func([]effect) []float64) *prediction {
	p := &prediction{s: s, answers: answers, chances: chances, index: map[effect]int32{}, known: map[triple][]float64{}}
	p.classes.of = make([]int32, len(m.faults))
	for i := range p.classes.of {
		p.classes.of[i] = noFault // not met yet
	}
	return p
}

func (p *prediction) at(faults []int) []float64 {
	key := triple{noFault, noFault, noFault}
	for k, i := range faults {
		if p.classes.of[i] == noFault {
			p.classes.of[i] = p.classes.number(p.s.effectOf(i), p.index)
		}
		key[k] = p.classes.of[i]
	}
	key = sorted3(key[0], key[1], key[2])
	chances, ok := p.known[key]
	if !ok {
		chances = p.chances(p.effects(key))
		p.known[key] = chances
	}
	return chances
}

func (p *prediction) effects(key triple) []effect {
	var out []effect
	for _, k := range key {
		if k >= 0 {
			out = append(out, p.classes.list[k])
		}
	}
	if out == nil {
		out = append(out, p.s.effectOf(noFault))
	}
	return out
}
