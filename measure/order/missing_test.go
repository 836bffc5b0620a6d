package order

import (
	"math"
	"math/rand/v2"
	"testing"
)

// lazyRun is a run of cycles of three firings of which any is missing with a chance:
// what is heard of the missing ones is as loud as given, and their likelihoods stand
// so many spreads from those that are there. It gives the share of cycles that miss.
func lazyRun(loud float32, apart, chance float64) (beatRun, float64) {
	const cycles, points = 200, 40
	rng := rand.New(rand.NewPCG(11, 12)) // known answers: the share is counted on the way
	r, _ := strokes(cycles, 1, 0)
	missed := map[int]bool{}
	for j := range cycles * r.n {
		v := -2.5*apart/2 + 2.5*rng.NormFloat64()
		if rng.Float64() < chance {
			v += 2.5 * apart
			missed[j/r.n] = true
			for i := range points {
				r.grid.rows[0][j*points+i] *= loud
				r.grid.rows[1][j*points+i] += float32(math.Log(float64(loud)))
			}
		}
		r.quiet = append(r.quiet, v)
	}
	return r, float64(len(missed)) / cycles
}

// Where any firing misses now and then, valves that click at every place bring the
// two kinds nearer to each other: they still count while energy is gone with them,
// and forbid to call the engine healthy when they run into each other.
func TestAnyFiringMissesBehindValves(t *testing.T) {
	r, want := lazyRun(0.5, 4.6, 0.2)
	if m := r.missingFirings(); !m.sure || math.Abs(m.share-want) > 0.05 {
		t.Errorf("%.2f of the cycles miss, found %+v", want, m)
	}
	r, _ = lazyRun(0.5, 2.5, 0.3)
	if m := r.missingFirings(); !m.doubt || m.sure {
		t.Errorf("two kinds that run into each other: %+v, want a doubt", m)
	}
	r, _ = lazyRun(1, 4.6, 0.2)
	if m := r.missingFirings(); m.doubt || m.sure {
		t.Errorf("firings unlike each other of which none falls quiet: %+v", m)
	}
}

// A whole engine at a speed at which none idles is not called healthy: at twice the
// speed firings may be lost at random.
func TestNoEngineIsHealthyWhereNoneIdles(t *testing.T) {
	untold, told := &heard{}, &heard{typed: true}
	if !untold.tooSlow(365) || untold.tooSlow(620) {
		t.Error("no engine idles at 365 rpm, many at 620")
	}
	if told.tooSlow(365) {
		t.Error("a speed that somebody typed is doubted")
	}
}

// Misses of several firings, of which cycles tell but one: the share counted of that
// one is widened to what all may come to, and nothing is where none are seen.
func TestSeveralThatMissWidenTheShareOfOne(t *testing.T) {
	r, want := lazyRun(0.5, 3.3, 0.3)
	m := r.missingFirings()
	if m.sure || m.atMost < want-0.1 {
		t.Fatalf("%.2f of the cycles miss: %+v", want, m)
	}
	one := misses{sure: true, share: 0.3, err: 0.05}
	if low, high := one.upTo(m.atMost).interval(); low > 0.25 || high < want-0.1 {
		t.Errorf("%.2f of the cycles miss, one firing of them in 0.30: %.2f to %.2f", want, low, high)
	}
	if got := one.upTo(0); got != one {
		t.Errorf("nothing seen of others: %+v", got)
	}
}

// An engine that is switched off before the recording ends, or a short drop-out of
// the recorder, is no misfire however many firings are gone in a row.
func TestFewGapsAccuseNobody(t *testing.T) {
	r, _ := lazyRun(0.5, 6.5, 0)
	for _, from := range []int{100, 300, len(r.quiet) - 2} {
		for j := from; j < from+2; j++ {
			r.quiet[j] += 2.5 * 12
		}
	}
	if m := r.missingFirings(); m.sure {
		t.Errorf("three gaps of two firings are taken for misses: %+v", m)
	}
	if r, _ := lazyRun(0.5, 6.5, 0.1); !r.missingFirings().sure {
		t.Error("firings that are missing now and then are not found")
	}
}
