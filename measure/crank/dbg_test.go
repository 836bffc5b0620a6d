package crank

import (
	"halforder/engine"
	"sort"
	"testing"
)

func TestDbg(t *testing.T) {
	for _, lay := range []string{"i4", "i3", "v8-18436572"} {
		for _, rpm := range []float64{800, 1500, 3000, 6000} {
			s := defaultSim(lay, "60-2", rpm)
			s.cycles = 400
			s.missP = map[engine.Cylinder]float64{2: 0.1}
			rec, truth := s.run()
			a, err := prepare(Setup{Layout: s.layout, Wheel: s.wheel, References: []Reference{{1, s.topsAt - 300 + 720, FromCam}}}, rec)
			if err != nil {
				t.Fatal(err)
			}
			a.weigh()
			a.judge()
			a.count()
			// match by time
			var hit, all, fa, ok int
			var missEx, okEx []float64
			times := map[[2]int]float64{}
			for k, v := range truth.times {
				times[k] = v
			}
			type tt struct {
				t float64
				k [2]int
			}
			var list []tt
			lags := map[int][]float64{}
			for k, v := range truth.times {
				list = append(list, tt{v, k})
			}
			sort.Slice(list, func(i, j int) bool { return list[i].t < list[j].t })
			for _, w := range a.weighed {
				i := sort.Search(len(list), func(i int) bool { return list[i].t >= w.at })
				if i == len(list) || i > 0 && w.at-list[i-1].t < list[i].t-w.at {
					i--
				}
				if list[i].k[1] != a.order[w.slot] {
					t.Fatalf("slot mismatch %v %v", list[i].k, a.order[w.slot])
				}
				if list[i].k[0] < 2 {
					continue
				}
				lag := 99
				for d := -5; d <= 5; d++ {
					for _, k := range []int{list[i].k[0]*s.layout.N() + list[i].k[1] + d} {
						if truth.misses[[2]int{k / s.layout.N(), k % s.layout.N()}] && (lag == 99 || lag > d*d) {
							lag = d
						}
					}
				}
				lags[lag] = append(lags[lag], w.excess)
				if truth.misses[list[i].k] {
					all++
					missEx = append(missEx, w.excess)
					if w.miss {
						hit++
					}
				} else {
					ok++
					okEx = append(okEx, w.excess)
					if w.miss {
						fa++
					}
				}
			}
			sm, so := describe(missEx), describe(okEx)
			t.Logf("%s %.0f: misses %d/%d  false %d/%d  model %+v  missEx %.2f±%.2f ok %.2f±%.2f best %s", lay, rpm, hit, all, fa, ok, a.misses, sm.mean, sm.dev, so.mean, so.dev, a.post.best)
			for d := -5; d <= 5; d++ {
				q := describe(lags[d])
				if q.n > 0 {
					t.Logf("   lag %d n %d mean %.3f dev %.3f", d, q.n, q.mean, q.dev)
				}
			}
			q := describe(lags[99])
			t.Logf("   far n %d mean %.3f dev %.3f", q.n, q.mean, q.dev)
		}
	}
}
