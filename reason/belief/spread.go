package belief

// distribution is the chance of each outcome, at every unit alike, under some
// effects.
func (s *readingSight) distribution(effects []effect) []float64 {
	k := len(s.check.Outcomes)
	out, one, all := make([]float64, k), make([]float64, k), make([]float64, k)
	norm := 0.0
	eachDraw(effects, func(d *draws, w float64) {
		w *= s.flags.of(s.miss, anyShows(effects, d))
		norm += w
		for i, u := range s.units {
			s.spread(one, u, effects, d)
			for o := range k {
				if i == 0 {
					all[o] = 1
				}
				all[o] *= one[o]
			}
		}
		for o := range k {
			out[o] += w * all[o]
		}
	})
	for o := range out {
		out[o] /= norm
	}
	return out
}

// sweep is the chance of each sweep answer under some effects.
func (s *readingSight) sweep(effects []effect) []float64 {
	n, k := len(s.units), len(s.check.Outcomes)
	out := make([]float64, 2+n*(k-1))
	norm := 0.0
	p := make([]float64, n*k)
	eachDraw(effects, func(d *draws, w float64) {
		w *= s.flags.of(s.miss, anyShows(effects, d))
		norm += w
		normal := 1.0
		for u := range s.units {
			s.spread(p[u*k:][:k], s.units[u], effects, d)
			normal *= p[u*k]
		}
		addSweep(out, p, n, k, w, normal)
	})
	for i := range out {
		out[i] /= norm
	}
	return out
}

func addSweep(out, p []float64, n, k int, w, normal float64) {
	rest := 1 - normal
	out[0] += w * normal
	for u := range n {
		if p[u*k] == 0 {
			continue
		}
		for o := 1; o < k; o++ {
			v := normal / p[u*k] * p[u*k+o]
			out[1+u*(k-1)+o-1] += w * v
			rest -= v
		}
	}
	out[len(out)-1] += w * max(rest, 0)
}
