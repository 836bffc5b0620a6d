package order

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"halforder/finding"
)

// What a cut takes away, turned to every slot, adds up to the sound before: with
// any path and delay the shares come out as they went in, up to what all share.
func TestBassSharesAreTheWorkWhateverThePath(t *testing.T) {
	for _, c := range []struct {
		layout string
		work   []float64
		cut    int
	}{
		{"1-3-4-2", []float64{1, 1, 0.6, 1}, 0},
		{"1-5-3-6-2-4", []float64{1, 0, 1, 1, 1, 0.6}, 2},
		{"1-8-4-3-6-5-7-2", []float64{1, 1, 1, 0.6, 1, 1, 1, 1}, 6},
	} {
		layout := parse(t, c.layout)
		n, harmonics, rng := layout.N(), harmonicsFor(layout), rand.New(rand.NewPCG(4, 4))
		left := append([]float64(nil), c.work...)
		left[c.cut] = 0
		dead, workers := 0, 0.0
		for _, w := range c.work {
			workers += w
			if w == 0 {
				dead++
			}
		}
		before := picture{make([]complex128, harmonics), make([]float64, harmonics)}
		during := picture{make([]complex128, harmonics), make([]float64, harmonics)}
		gain := 1.1 * workers / (workers - 1) * float64(n-dead-1) / float64(n-dead) // as bassGain will tell it is 1.1
		for h := 1; h <= harmonics; h++ {
			path := cmplx.Rect(0.2+rng.Float64(), 2*math.Pi*rng.Float64())
			before.mean[h-1], during.mean[h-1] = path*layout.Phasor(h, c.work), path*layout.Phasor(h, left)*complex(gain, 0)
			before.noise[h-1], during.noise[h-1] = 1e-6, 1e-6
		}
		f := &folded{layout: layout, harmonics: harmonics, bands: []picture{before}}
		b, ok := f.bassOf(during, c.cut, dead, orderError)
		if !ok {
			t.Fatal("no shares")
		}
		usual := median(append([]float64(nil), b.shares...))
		for i, k := range b.slots {
			if got, want := b.shares[i]-usual, c.work[k]-1; math.Abs(got-want) > 0.1 {
				t.Errorf("%s: slot %d does %.2f more than the usual one, want %.2f", c.layout, k, got, want)
			}
		}
		wrong := append([]float64(nil), c.work...)
		for k, w := range c.work {
			if w < 1 {
				wrong[k], wrong[(k+1)%n] = wrong[(k+1)%n], wrong[k]
				break
			}
		}
		if right, other := b.logLikelihood(c.work), b.logLikelihood(wrong); right < 2.5 || other > right-3 {
			t.Errorf("%s: the truth is %.1f nats above all working, a neighbour %.1f", c.layout, right, other)
		}
	}
}

// Noise tells no pattern from another.
func TestBassSharesOfNoiseSayLittle(t *testing.T) {
	layout := parse(t, "1-3-4-2")
	harmonics, rng := harmonicsFor(layout), rand.New(rand.NewPCG(5, 5))
	noise := func() picture {
		p := picture{make([]complex128, harmonics), make([]float64, harmonics)}
		for h := range p.mean {
			p.mean[h], p.noise[h] = complex(rng.NormFloat64(), rng.NormFloat64()), 2
		}
		return p
	}
	for range 50 {
		f := &folded{layout: layout, harmonics: harmonics, bands: []picture{noise()}}
		b, ok := f.bassOf(noise(), 1, 0, orderError)
		if v := b.logLikelihood(workOf(finding.Pattern("..w."))); ok && v > 3 {
			t.Errorf("noise speaks for a weak cylinder by %.1f nats", v)
		}
	}
}

// The begin of a cycle is where the followed phase passes a whole one.
func TestCycleBeginsFollowThePhase(t *testing.T) {
	v := showing{film: film{start: 2, step: 0.01}, from: 10, settled: 20}
	var phases []float64
	for i := range 100 {
		phases = append(phases, wrapHalf(0.3+6*0.01*float64(i))) // 6 cycles a second
	}
	got := v.cycleBegins(phases)
	for i, at := range got {
		whole := 0.3 + 6*(at-v.at(v.from))
		if math.Abs(whole-math.Round(whole)) > 1e-6 || at < v.at(v.settled) {
			t.Errorf("begin %d stands at %.3f cycles", i, whole)
		}
	}
	if len(got) != 6 {
		t.Errorf("%d begins, want 6", len(got))
	}
}
