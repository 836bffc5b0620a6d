package plan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// plainRepairs is repairOnly once more, written world by world from the
// definition: no kinds, no buffers, no running sums. It judges the fast one.
func plainRepairs(p *problem, w []float64, s state) float64 {
	done := make([]bool, len(p.repairs))
	copy(done, s.done)
	opened, total := s.opened, 0.0
	best := math.Inf(1)
	for {
		alive, own := 0.0, 0.0
		gain, helped := make([]float64, len(p.repairs)), make([]float64, len(p.repairs))
		for i, faults := range p.worlds {
			var left [][]int
			for _, f := range faults {
				if !slices.ContainsFunc(p.fixers[f], func(r int) bool { return done[r] }) {
					left = append(left, p.fixers[f])
				}
			}
			if len(left) == 0 && len(faults) > 0 {
				continue
			}
			alive += w[i]
			counted := map[int]bool{}
			for _, fixers := range left {
				own += w[i] * cheapest(p, fixers)
				for _, r := range fixers {
					gain[r] += w[i] / float64(len(left))
					if !counted[r] {
						helped[r], counted[r] = helped[r]+w[i], true
					}
				}
			}
		}
		best = min(best, total+alive*p.handOn+own)
		next, share := -1, 0.0
		for r, g := range gain {
			if v := g / p.costOf(&p.repairs[r], opened); g > rounding*alive && v > share {
				next, share = r, v
			}
		}
		if next < 0 || alive < 1e-11 {
			return best
		}
		r := &p.repairs[next]
		c := p.costOf(r, opened)
		if alive*c+(alive-helped[next])*r.needless > gain[next]*p.handOn+helped[next]*c {
			return best
		}
		total += alive*c + (alive-helped[next])*r.needless
		opened |= r.cover
		done[next] = true
	}
}

func cheapest(p *problem, fixers []int) float64 {
	best := 0.0
	for k, r := range fixers {
		if k == 0 || p.repairs[r].cost < best {
			best = p.repairs[r].cost
		}
	}
	return best
}

// many makes up a problem with as many worlds as a real one: single faults in
// several severities and pairs.
func many(r *rand.Rand) (problem, []float64) {
	p := problem{handOn: 700}
	for range 40 {
		p.repairs = append(p.repairs, repair{cost: 40 + 900*r.Float64(), needless: 450, cover: uint32(r.IntN(4)), opening: 180 * r.Float64()})
	}
	for f := range 160 {
		fixers := []int{f / 4}
		if r.IntN(12) == 0 {
			fixers = append(fixers, r.IntN(40))
		}
		p.fixers = append(p.fixers, fixers)
		p.worlds = append(p.worlds, []faultRef{faultRef(f)})
	}
	for range 240 {
		p.worlds = append(p.worlds, []faultRef{faultRef(r.IntN(160)), faultRef(r.IntN(160))})
	}
	p.worlds = append(p.worlds, nil)
	w := make([]float64, len(p.worlds))
	for i := range w {
		w[i] = math.Exp(3 * r.NormFloat64())
	}
	for i, total := 0, sum(w); i < len(w); i++ {
		w[i] /= total
	}
	p.index()
	return p, w
}

// Seed 5.
func TestRepairsEqualThePlainOnes(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for range 40 {
		p, w := many(r)
		s := state{opened: uint32(r.IntN(4))}
		if r.IntN(2) == 0 {
			s.done = set(nil, len(p.repairs), r.IntN(len(p.repairs)))
		}
		fast, _ := p.repairOnly(w, s)
		if plain := plainRepairs(&p, w, s); math.Abs(fast-plain) > 1e-6*plain {
			t.Errorf("repairs alone cost %.9f, world by world %.9f", fast, plain)
		}
	}
}

func BenchmarkPlainRepairs(b *testing.B) {
	p, w := many(rand.New(rand.NewPCG(5, 5)))
	for b.Loop() {
		plainRepairs(&p, w, state{})
	}
}

func BenchmarkFastRepairs(b *testing.B) {
	p, w := many(rand.New(rand.NewPCG(5, 5)))
	for b.Loop() {
		p.repairOnly(w, state{})
	}
}

// Side by side in one run: what the search does thousands of times must be worth
// its code.
func TestRepairsFasterThanPlain(t *testing.T) {
	if testing.Short() {
		t.Skip("timing")
	}
	fast, plain := testing.Benchmark(BenchmarkFastRepairs), testing.Benchmark(BenchmarkPlainRepairs)
	ratio := float64(plain.NsPerOp()) / float64(fast.NsPerOp())
	t.Logf("plain %v, fast %v: %.0f times", time.Duration(plain.NsPerOp()), time.Duration(fast.NsPerOp()), ratio)
	if ratio < 5 {
		t.Errorf("repairs are reckoned only %.1f times faster than world by world", ratio)
	}
}
