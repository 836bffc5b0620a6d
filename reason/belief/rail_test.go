package belief_test

import (
	"math"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

func railCar(t testing.TB) belief.Car {
	return belief.Car{Layout: layout(t, "v6-123456"), Ignition: fault.Cassette, Injection: fault.Port, Complaint: fault.DeadOne}
}

// A rail of coils is one part: a fault inside takes one cylinder or all, and a
// new rail ends either.
func TestRailOfCoils(t *testing.T) {
	car := railCar(t)
	first := fault.FirstSeating(car.Layout, car.Ignition, car.Injection)
	if a, b := first.At(fault.Coil, 1), first.At(fault.Coil, 3); a != b || a == first.At(fault.Coil, 2) {
		t.Fatalf("coils at cylinders 1, 3 and 2: %q, %q, %q; each bank has one rail", a, b, first.At(fault.Coil, 2))
	}
	oneDead := build(t, car, cutsWithDead(3, 6))
	if p := railShare(oneDead, "coil A", 3); p < 0.2 {
		t.Errorf("cylinder 3 dead: the coil inside the rail has %.3f", p)
	}
	if p := railShare(oneDead, "coil A", 0); p > 0.01 {
		t.Errorf("cylinder 3 dead and the rest well: the whole rail has %.3f", p)
	}
	var bankDead []belief.Evidence
	for c := engine.Cylinder(1); c <= 6; c++ {
		bankDead = append(bankDead, cut(c, map[bool]string{true: "none", false: "normal"}[c%2 == 1]))
	}
	whole := build(t, car, bankDead)
	if p := railShare(whole, "coil A", 0); p < 0.2 {
		t.Errorf("a bank dead: its rail has %.3f as a whole", p)
	}
	parts := 0.0
	for _, s := range oneDead.Parts() {
		if s.Name == "coil A" {
			parts = s.P
		}
	}
	if sum := railShare(oneDead, "coil A", 1) + railShare(oneDead, "coil A", 3) + railShare(oneDead, "coil A", 5) + railShare(oneDead, "coil A", 0); math.Abs(parts-sum) > 0.01 {
		t.Errorf("the part has %.4f, what sits in it together %.4f", parts, sum)
	}
}

func railShare(b *belief.Belief, part fault.PartID, inside engine.Cylinder) float64 {
	for _, s := range b.Suspects() {
		if s.Cause == "coil" && s.Site.Part == part && s.Site.Inside == inside {
			return s.P
		}
	}
	return 0
}

func TestRailIsNotSwapped(t *testing.T) {
	_, err := belief.New(catalogue(t), railCar(t), []belief.Evidence{{ID: "swap",
		Swap: &belief.Swap{Kind: fault.Coil, A: 3, B: 2, Outcome: belief.Follows}}})
	if err == nil || !strings.Contains(err.Error(), "rail") {
		t.Errorf("the swap of a coil in a rail gives %v", err)
	}
}
