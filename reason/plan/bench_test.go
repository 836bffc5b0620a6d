package plan_test

import (
	"testing"

	"halforder/reason/belief"
	"halforder/reason/plan"
)

func BenchmarkV12Next(b *testing.B) {
	bel := build(b, car(b, "v12"), cuts(5, 12)...)
	for b.Loop() {
		if _, err := plan.Next(bel, plan.Options{Miss: belief.Present}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkV12FirstStep(b *testing.B) {
	bel := build(b, car(b, "v12"))
	for b.Loop() {
		if _, err := plan.Next(bel, plan.Options{Miss: belief.Present}); err != nil {
			b.Fatal(err)
		}
	}
}
