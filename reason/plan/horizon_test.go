package plan

import (
	"math"
	"math/rand/v2"
	"testing"
)

// solver finds the optimum of problems too large to try every policy one by
// one: what is known is which checks gave which answers and which repairs
// failed, in whatever order.
type solver struct {
	p    *problem
	w    []float64
	memo map[knowledge]float64
}

// knowledge is the answer of each check (0: not done) in base 3, the repairs
// done and the covers off.
type knowledge struct{ answers, done, opened int }

// best is the expected cost from here times the chance to get here.
func (s *solver) best(k knowledge) float64 {
	if v, ok := s.memo[k]; ok {
		return v
	}
	w, st := s.unpack(k)
	v := 0.0
	if sum(w) > 1e-13 {
		v = s.p.handing(w, st)
		for i := range s.p.checks {
			v = min(v, s.afterCheck(k, w, st, i))
		}
		for r := range s.p.repairs {
			if k.done>>r&1 == 0 {
				_, price := doRepair(s.p, w, st, r)
				v = min(v, price+s.best(knowledge{k.answers, k.done | 1<<r, k.opened | int(s.p.repairs[r].cover)}))
			}
		}
	}
	s.memo[k] = v
	return v
}

func (s *solver) afterCheck(k knowledge, w []float64, st state, i int) float64 {
	place := int(math.Round(math.Pow(3, float64(i))))
	if k.answers/place%3 != 0 {
		return math.Inf(1)
	}
	v := sum(w) * s.p.checks[i].costIn(st.opened)
	for a := range s.p.checks[i].answers {
		v += s.best(knowledge{k.answers + (a+1)*place, k.done, k.opened | int(s.p.checks[i].cover)})
	}
	return v
}

// unpack is the weights and the state that go with what is known.
func (s *solver) unpack(k knowledge) ([]float64, state) {
	st := state{opened: uint32(k.opened), done: make([]bool, len(s.p.repairs))}
	w := append([]float64{}, s.w...)
	for i, rest := 0, k.answers; i < len(s.p.checks); i, rest = i+1, rest/3 {
		if a := rest % 3; a > 0 {
			weigh(w, w, s.p.checks[i].answers[a-1])
		}
	}
	for r := range st.done {
		if k.done>>r&1 == 1 {
			w, _ = doRepair(s.p, w, st, r)
			st.done[r] = true
		}
	}
	return w, st
}

// covered makes up a problem with two covers that checks and repairs share, and prices
// as in the trade.
func covered(r *rand.Rand, faults, checks int) (problem, []float64) {
	p := problem{handOn: 700, bit: 112}
	for f := range faults {
		p.repairs = append(p.repairs, repair{cost: 60 + 400*r.Float64(), needless: 450 + 60*r.Float64(), cover: uint32(r.IntN(4)), opening: 180 * r.Float64()})
		p.fixers = append(p.fixers, []int{f})
		p.worlds = append(p.worlds, []faultRef{faultRef(f)})
	}
	p.worlds = append(p.worlds, []faultRef{0, 1}, []faultRef{2, 3}, nil)
	w := make([]float64, len(p.worlds))
	for i := range w {
		w[i] = r.ExpFloat64()
		if i >= faults {
			w[i] *= 0.15
		}
	}
	for i, total := 0, sum(w); i < len(w); i++ {
		w[i] /= total
	}
	for range checks {
		c := randomCheck(r, len(w))
		c.cover = uint32(r.IntN(4))
		p.checks = append(p.checks, c)
	}
	p.index()
	return p, w
}

// With shared access the policy costs at most 2 % more than the optimum: with few moves in
// no case, with more moves than are looked through as far over all cases.
func TestCloseToTheOptimumWithSharedAccess(t *testing.T) {
	for _, x := range []struct {
		faults, checks, cases int
		worst                 float64
	}{{5, 6, 16, 1.02}, {6, 7, 4, math.Inf(1)}} {
		seed := uint64(20240608)
		r := rand.New(rand.NewPCG(seed, 1))
		worst, total, optimal := 1.0, 0.0, 0.0
		for range x.cases {
			p, w := covered(r, x.faults, x.checks)
			s := solver{&p, w, map[knowledge]float64{}}
			best := s.best(knowledge{})
			got, _ := follow(&p, w, state{}, usualDepth)
			if got < best-1e-9 {
				t.Fatalf("seed %d: the policy costs %.6f, less than the optimum %.6f", seed, got, best)
			}
			worst, total, optimal = max(worst, got/best), total+got, optimal+best
		}
		t.Logf("seed %d: %d cases of %d checks, together %.4f, worst %.4f of the optimum", seed, x.cases, x.checks, total/optimal, worst)
		if total > 1.02*optimal || worst > x.worst {
			t.Errorf("%d checks: together %.4f and worst %.4f of the optimum, want at most 1.02", x.checks, total/optimal, worst)
		}
	}
}
