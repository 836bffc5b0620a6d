package job

import (
	"fmt"
	"slices"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// Car is what the belief starts from.
func (c *Card) Car() belief.Car {
	o := c.Opened
	return belief.Car{Layout: o.Engine, Ignition: o.Ignition, Injection: o.Injection,
		Complaint: o.Complaint, Access: o.Access, Hard: o.Hard}
}

// Belief is what the card's evidence says. The error names entries that cannot
// be true together.
func (c *Card) Belief(cat *fault.Catalogue) (*belief.Belief, error) { return c.BeliefOf(cat, 0) }

// BeliefOf is Belief with so many faults at once thought possible, 1 to 3; 0 is
// two. Three take much longer.
func (c *Card) BeliefOf(cat *fault.Catalogue, faults int) (*belief.Belief, error) {
	car := c.Car()
	car.MaxFaults = faults
	b, err := belief.New(cat, car, c.evidenceBy(cat))
	if err != nil {
		return nil, fmt.Errorf("job %d: %w", c.ID, err)
	}
	return b, nil
}

// evidenceBy is the evidence as a catalogue takes it: how the engine ran counts for
// checks that depend on it only.
func (c *Card) evidenceBy(cat *fault.Catalogue) []belief.Evidence {
	out := c.Evidence()
	for i := range out {
		if e := &out[i]; e.Reading != nil && atAnyTime(cat, e.Reading.Check) {
			e.Regime = fault.Any
		}
	}
	return out
}

// atAnyTime reports whether how the engine ran just then means nothing to a check.
func atAnyTime(cat *fault.Catalogue, check string) bool {
	k, err := cat.Check(check)
	return err == nil && slices.Contains(k.Regimes, fault.Any)
}

// Evidence is everything on the card that says something about what is wrong,
// in the order it was entered.
func (c *Card) Evidence() []belief.Evidence {
	g := gather{card: c}
	for _, f := range c.Findings {
		g.finding(f)
	}
	for _, r := range c.AllReadings() {
		g.reading(r)
	}
	for _, s := range c.Swaps {
		g.swap(s)
	}
	for _, r := range c.Repairs {
		g.repair(r)
	}
	for _, p := range c.Proofs {
		g.proof(p)
	}
	return g.inOrder()
}

// EvidenceID names the evidence that entry seq of a card gave.
func EvidenceID(seq int64) string { return fmt.Sprintf("entry %d", seq) }

// gather collects evidence by the number of its event.
type gather struct {
	card *Card
	by   map[int64][]belief.Evidence
}

func (g *gather) put(seq int64, e belief.Evidence) {
	if g.by == nil {
		g.by = map[int64][]belief.Evidence{}
	}
	e.ID = EvidenceID(seq)
	g.by[seq] = append(g.by[seq], e)
}

func (g *gather) inOrder() []belief.Evidence {
	var out []belief.Evidence
	for seq := int64(1); seq <= g.card.Last; seq++ {
		out = append(out, g.by[seq]...)
	}
	return out
}

func (g *gather) finding(f Stamped[Found]) {
	if f.What.Finding.Likelihood == nil || g.heard(f) {
		return
	}
	recording, _ := g.card.Recording(f.What.SHA256)
	g.put(f.Seq, belief.Evidence{Seating: f.Seating, Mended: f.Mended, Regime: recording.What.Regime,
		Finding: f.What.Finding.Likelihood, Source: f.What.Finding.Analysis + " " + recording.What.Sensor})
}

// heard reports whether an earlier finding of the same analysis in the same recording
// counts already: the same bytes are one witness.
func (g *gather) heard(f Stamped[Found]) bool {
	return slices.ContainsFunc(g.card.Findings, func(e Stamped[Found]) bool {
		return e.Seq < f.Seq && e.What.SHA256 == f.What.SHA256 && e.What.Finding.Analysis == f.What.Finding.Analysis
	})
}

// reading gives one piece of evidence per outcome: a check of all cylinders
// says the same of those that gave the same.
func (g *gather) reading(r Stamped[Entered]) {
	var outcomes []string
	at := map[string][]engine.Cylinder{}
	for _, result := range r.What.Results {
		if _, seen := at[result.Outcome]; !seen {
			outcomes = append(outcomes, result.Outcome)
			at[result.Outcome] = nil
		}
		if result.Cylinder != 0 {
			at[result.Outcome] = append(at[result.Outcome], result.Cylinder)
		}
	}
	for _, outcome := range outcomes {
		g.put(r.Seq, belief.Evidence{Seating: r.Seating, Mended: r.Mended, Regime: r.What.Regime, Miss: r.What.Miss,
			Reading: &belief.Reading{Check: r.What.Check, Cylinders: at[outcome], Outcome: outcome}})
	}
}

// swap is evidence only once its outcome was watched.
func (g *gather) swap(s Swap) {
	if s.Watched == nil {
		return
	}
	w := s.Watched.What
	g.put(s.Watched.Seq, belief.Evidence{Seating: s.Seating, Mended: s.Mended, Regime: w.Regime, Miss: w.Before,
		Swap: &belief.Swap{Kind: s.What.Part, Along: s.What.Along, A: s.What.A, B: s.What.B,
			Outcome: w.Outcome, Before: w.BeforeS, After: w.AfterS}})
}

func (g *gather) repair(r Stamped[Repaired]) {
	if r.What.Part == "" {
		return
	}
	g.put(r.Seq, belief.Evidence{Seating: r.Seating, Mended: r.Mended,
		Renewed: &belief.Renewed{Kind: r.What.Part, Cylinder: r.What.Cylinder, Part: r.What.NewPart}})
}

// proof is evidence of its own where it was watched by eye and ear; a recording
// speaks through its finding.
func (g *gather) proof(p Stamped[Proved]) {
	if p.What.After != "" {
		return
	}
	for _, w := range watches(p.What) {
		g.put(p.Seq, belief.Evidence{Seating: p.Seating, Mended: p.Mended, Regime: p.What.Regime, Watched: &w})
	}
}

// watches are one stretch, or where there were several: those without a miss as
// one, and each with a miss.
func watches(p Proved) []belief.Watched {
	if p.Stretches == 0 {
		return []belief.Watched{{Seconds: p.WatchedS, Came: p.Misses > 0}}
	}
	each := p.WatchedS / float64(p.Stretches)
	var out []belief.Watched
	if clean := p.Stretches - p.Misses; clean > 0 {
		out = append(out, belief.Watched{Seconds: each * float64(clean)})
	}
	for range p.Misses {
		out = append(out, belief.Watched{Seconds: each, Came: true})
	}
	return out
}
