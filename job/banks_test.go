package job

import (
	"slices"
	"strings"
	"testing"

	"halforder/engine"
)

func vSix(t testing.TB, bodies ...Body) *Card {
	t.Helper()
	es := events(t, bodies...)
	es[0].Body.(*Opened).Engine = layout(t, "v6-142536")
	c, err := Fold(1, es)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestBankIsNamedByAnyOfItsCylinders(t *testing.T) {
	card, cat := vSix(t), catalogue(t)
	results, err := card.ReadResults(cat, "back-pressure", []string{"2=ok", "4,5,6=high"})
	if err != nil {
		t.Fatal(err)
	}
	want := []Result{{Cylinder: 1, Outcome: "ok"}, {Cylinder: 4, Outcome: "high"}}
	if !slices.EqualFunc(results, want, func(a, b Result) bool { return a.Cylinder == b.Cylinder && a.Outcome == b.Outcome }) {
		t.Errorf("got %v, want %v", results, want)
	}
	if said := (&Entered{Check: "back-pressure", Results: results}).Describe(cat, card.Layout()); said != "bank 1: free; bank 2: too high" {
		t.Errorf("described as %q", said)
	}
	for _, field := range []string{"ok", "0.005bar"} {
		if _, err := card.ReadResults(cat, "back-pressure", []string{field}); err == nil || !strings.Contains(err.Error(), "4=… is bank 2") {
			t.Errorf("%q: %v, want to be asked at which bank", field, err)
		}
	}
}

// A card on which a bank was once left out is still judged: that bank's is somewhere.
func TestBankLeftOutIsSomewhere(t *testing.T) {
	cat := catalogue(t)
	blocked := func(results ...Result) (sum float64) {
		t.Helper()
		var bodies []Body
		if len(results) > 0 {
			bodies = []Body{&Entered{Check: "back-pressure", Results: results}}
		}
		b, err := vSix(t, bodies...).Belief(cat)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range b.Suspects() {
			if s.Cause == "restriction" {
				sum += s.P
			}
		}
		return sum
	}
	nothing, somewhere := blocked(), blocked(Result{Outcome: "high"})
	if somewhere < 3*nothing {
		t.Errorf("a bank's blocked exhaust goes from %.3f to %.3f", nothing, somewhere)
	}
	at := func(c engine.Cylinder) Result { return Result{Cylinder: c, Outcome: "ok"} }
	if one, both := blocked(at(1)), blocked(at(1), at(4)); one > 0.7*nothing || both > 0.3*one {
		t.Errorf("free at none, one and both banks leaves %.4f, %.4f, %.4f", nothing, one, both)
	}
}
