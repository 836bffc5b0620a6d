package order

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"halforder/finding"
)

// missing makes one firing miss at random in a share of the cycles, and tells
// in which share it did.
func (m *mounted) missing(position int, share float64, seed uint64) (missed func() float64) {
	rng := rand.New(rand.NewPCG(seed, 31))
	var cycles, misses float64
	m.off = func(_ float64, k int) bool {
		if k != position {
			return false
		}
		cycles++
		if rng.Float64() < share {
			misses++
			return true
		}
		return false
	}
	return func() float64 { return misses / cycles }
}

// The share of the cycles that miss is counted, or none is given.
func TestFeelCountsMisses(t *testing.T) {
	counted, all := 0, 0
	for _, layout := range []string{"i3", "i4", "i6", "v8-18436572"} {
		for seed := range uint64(4) {
			m := anyMounted(parse(t, layout), 200, seed)
			share := 0.15 + 0.12*float64(seed)
			missed := m.missing(int(seed)%m.layout.N(), share, seed)
			f, err := Feel(m.shakes(), Config{Layout: m.layout})
			name := fmt.Sprintf("%s, engine %d", layout, seed)
			all++
			if err != nil {
				t.Logf("%s: %v", name, err)
				continue
			}
			if f.Verdict == finding.NoMisfire {
				t.Errorf("%s: %s", name, f.Sentence)
			}
			q, ok := f.Quantity(MissesQuantity)
			if !ok {
				continue
			}
			counted++
			if want := missed(); want < q.Low || want > q.High {
				t.Errorf("%s: %.2f of the cycles miss, said %.2f (%.2f to %.2f)", name, want, q.Value, q.Low, q.High)
			}
		}
	}
	if counted < all/2 {
		t.Errorf("counted in %d of %d", counted, all)
	}
}

// Healthy engines, and those with a cylinder dead or weak in all cycles, have
// one kind of cycle.
func TestFeelSeesOneKindWhereNoneMisses(t *testing.T) {
	for _, layout := range []string{"i3", "i4", "i5", "i6", "v6-odd"} {
		for seed := range uint64(6) {
			m := anyMounted(parse(t, layout), 100*float64(1+seed%3), seed)
			m.work[int(seed)%m.layout.N()] = []float64{1, 0, 0.5}[seed%3]
			f, err := Feel(m.shakes(), Config{Layout: m.layout})
			if err != nil {
				t.Errorf("%s: %v", layout, err)
				continue
			}
			if q, ok := f.Quantity(MissesQuantity); ok && q.High < 1 {
				t.Errorf("%s, engine %d: said that %.2f of the cycles miss", layout, seed, q.Value)
			}
		}
	}
}
