package order

import (
	"halforder/engine"
)

// folded is a run of cycles with what several judgements need of it, each
// computed once.
type folded struct {
	cycles    []cycle
	layout    engine.Layout
	harmonics int
	bands     []picture
	uppers    [][]float64 // the upper bands as curves of one cycle
	limited   []complex128
	lows      map[[2]int][]float64 // activity of the low band, by first and last harmonic
}

// foldAll averages the cycles of all bands; uppers are those of a longer run,
// or nil.
func foldAll(cycles []cycle, bands, harmonics int, layout engine.Layout, uppers [][]float64) *folded {
	f := &folded{cycles: cycles, layout: layout, harmonics: harmonics, uppers: uppers, lows: map[[2]int][]float64{}}
	for b := range bands {
		f.bands = append(f.bands, fold(cycles, b, harmonics))
	}
	if uppers == nil {
		for _, p := range f.bands[1:] {
			f.uppers = append(f.uppers, wave(p.mean, perSlot*layout.N()))
		}
	}
	return f
}

// folded averages a run of cycles.
func (h *heard) folded(cycles []cycle) *folded {
	return foldAll(cycles, len(h.bands), h.harmonics, h.layout, nil)
}

// parts divides the run into stretches whose differences give the errors.
func (f *folded) parts() []*folded {
	g := min(groups, len(f.cycles)/2)
	var out []*folded
	for i := range g {
		part := f.cycles[i*len(f.cycles)/g : (i+1)*len(f.cycles)/g]
		out = append(out, foldAll(part, len(f.bands), f.harmonics, f.layout, f.uppers))
	}
	return out
}

// low is the mean of the low band without its clicks.
func (f *folded) low() []complex128 {
	if f.limited == nil {
		f.limited = limit(f.bands[0].mean, f.uppers, f.layout)
	}
	return f.limited
}

// activity is how much a view hears at each point of the cycle.
func (f *folded) activity(v view) []float64 {
	points := perSlot * f.layout.N()
	if !v.low {
		return wave(f.bands[v.band].mean, points)
	}
	key := [2]int{v.from, v.to}
	if f.lows[key] == nil {
		f.lows[key] = f.lowActivity(v, points)
	}
	return f.lows[key]
}

func (f *folded) lowActivity(v view, points int) []float64 {
	phasors := make([]complex128, v.to)
	copy(phasors[v.from-1:], f.low()[v.from-1:v.to])
	if f.layout.N() > 2 {
		phasors[turnHarmonic-1] = 0
	}
	var noise float64
	for _, n := range f.bands[0].noise[v.from-1 : v.to] {
		noise += 2 * n
	}
	return activityOf(wave(phasors, points), v.smooth, noise)
}
