package order

import (
	"strings"
	"testing"

	"halforder/finding"
)

// The next cut is that of the likeliest, wherever it stands in the firing order.
func TestTheNextCutIsTheLikeliest(t *testing.T) {
	text := nameSentence([]suspicion{{cylinder: 1, weak: 0.15}, {cylinder: 3, dead: 0.6}, {cylinder: 4}, {cylinder: 2, weak: 0.2}})
	if !strings.Contains(text, "cylinder 1 or 3 or 2: cut 3 next") {
		t.Errorf("%q, want the cut of cylinder 3", text)
	}
}

// Two that both are likely are not an "or".
func TestTwoLikelyOnesAreBoth(t *testing.T) {
	for want, all := range map[string][]suspicion{
		"both cylinders 1 and 6: cut 6 next": {{cylinder: 1, dead: 0.84}, {cylinder: 5}, {cylinder: 6, dead: 0.86}},
		"cylinder 1 or 6: cut 6 next":        {{cylinder: 1, dead: 0.4}, {cylinder: 6, dead: 0.55}},
	} {
		if text := nameSentence(all); !strings.Contains(text, want) {
			t.Errorf("%q, want %q", text, want)
		}
	}
}

// A cut turns a verdict that the loudness of the firings left open, and no other.
func TestACutTurnsOnlyWhatTheFiringsLeftOpen(t *testing.T) {
	h := &heard{layout: parse(t, "1-3-4-2"), weighers: []weigher{func([]float64) float64 { return 0 }}}
	j := judgement{n: 4, odds: 0.5}
	verdict, open := j.verdict(h.total.speed())
	if verdict != finding.CannotTell {
		t.Fatal(verdict)
	}
	named := func(p finding.Pattern, others float64) *finding.Likelihood {
		log := map[finding.Pattern]float64{}
		for _, q := range namedPatterns(4) {
			log[q] = others
		}
		log[p] = 0
		return &finding.Likelihood{Log: log}
	}
	for _, c := range []struct {
		name     string
		sentence string
		before   finding.Verdict
		others   float64 // ln of any other pattern
		odds     float64
		pattern  finding.Pattern
		want     finding.Verdict
	}{
		{"one weak", open, finding.CannotTell, -20, 0.5, "..w.", finding.Misfire},
		{"all work", open, finding.CannotTell, -20, 0.5, "....", finding.NoMisfire},
		{"all work, yet misses now and then", "something else", finding.CannotTell, -20, 0.5, "....", finding.CannotTell},
		{"the speed in doubt", open, finding.CannotTell, -20, 0, "..w.", finding.CannotTell},
		{"one rather weak", "all there", finding.NoMisfire, -1.5, -1, "..w.", finding.CannotTell},
		{"all there", "all there", finding.NoMisfire, -20, -1, "....", finding.NoMisfire},
	} {
		f := finding.Finding{Verdict: c.before, Sentence: c.sentence, Quantities: []finding.Quantity{{Name: ChanceQuantity, Value: 0.5}}}
		h.cutSays(&f, named(c.pattern, c.others), judgement{n: 4, odds: c.odds})
		if f.Verdict != c.want {
			t.Errorf("%s: %q, want %q: %s", c.name, f.Verdict, c.want, f.Sentence)
		}
		if chance := f.Quantities[0].Value; c.want == finding.Misfire && chance < nameChance || c.want == finding.NoMisfire && c.before != c.want && chance > 1-nameChance {
			t.Errorf("%s: chance of a misfire %.2f", c.name, chance)
		}
	}
}
