package order

import (
	"fmt"
	"math/cmplx"

	"halforder/engine"
	"halforder/finding"
)

// plotPoints is how finely one cycle is drawn.
const plotPoints = 360

// addSeries draws the last stretch, and speed and missing work through time.
func (h *heard) addSeries(f *finding.Finding, parts []stretch) {
	last := h.last()
	if len(last) >= minCycles {
		f.Series = append(f.Series, h.cycleSeries(last)...)
		f.Series = append(f.Series, h.orderSeries(last))
		if s := h.strengthSeries(last); len(s.X) > 0 {
			f.Series = append(f.Series, s)
		}
	}
	f.Series = append(f.Series, finding.Series{Title: "Engine speed", Shape: finding.Line,
		XName: "time", XUnit: "s", YName: "speed", YUnit: "rpm", X: h.speeds.x, Y: h.speeds.y})
	if s := missingSeries(parts); len(s.X) > 1 {
		f.Series = append(f.Series, s)
	}
}

// cycleSeries unrolls one cycle: the low band, and the loudness of the clearest
// upper band.
func (h *heard) cycleSeries(cycles []cycle) []finding.Series {
	out := []finding.Series{h.unrolled(cycles, 0, "One engine cycle, bass")}
	best, top := 0, 0.0
	for b := 1; b < len(h.bands); b++ {
		p := fold(cycles, b, h.harmonics)
		if c := sq(p.mean[h.layout.N()-1]) / max(p.noise[h.layout.N()-1], 1e-30); c > top {
			best, top = b, c
		}
	}
	if best > 0 {
		out = append(out, h.unrolled(cycles, best, "One engine cycle, "+h.bands[best].String()))
	}
	return out
}

func (h *heard) unrolled(cycles []cycle, band int, title string) finding.Series {
	s := finding.Series{Title: title, Shape: finding.Line, XName: "crank angle", XUnit: "°", YName: "sound", YUnit: "of full scale"}
	s.Y = wave(fold(cycles, band, h.harmonics).mean, plotPoints)
	for i := range s.Y {
		s.X = append(s.X, float64(engine.CycleDeg)*float64(i)/plotPoints)
	}
	return s
}

// strengthSeries shows the firings of the clearest view against the usual one.
func (h *heard) strengthSeries(cycles []cycle) finding.Series {
	views := weigh(h.folded(cycles))
	if len(views) == 0 {
		return finding.Series{}
	}
	best := views[0]
	for _, v := range views {
		if mean(v.spread) < mean(best.spread) {
			best = v
		}
	}
	s := finding.Series{Title: "Strength of the firings against the usual one", Shape: finding.Bars,
		XName: "place in the firing order", YName: "strength"}
	for k, v := range best.strength {
		s.X, s.Y = append(s.X, float64(k+1)), append(s.Y, v)
		s.Low, s.High = append(s.Low, v-1.645*best.spread[k]), append(s.High, v+1.645*best.spread[k])
		s.Labels = append(s.Labels, fmt.Sprintf("%d.", k+1))
	}
	return s
}

// orderSeries shows the orders of the low band against the strongest.
func (h *heard) orderSeries(cycles []cycle) finding.Series {
	p := fold(cycles, 0, h.harmonics)
	s := finding.Series{Title: "Orders of the bass", Shape: finding.Bars, XName: "order", XUnit: "per crank turn", YName: "level against the strongest"}
	var top float64
	for i := range min(2*h.layout.N()+1, len(p.mean)) {
		s.X, s.Y = append(s.X, float64(i+1)/2), append(s.Y, cmplx.Abs(p.mean[i]))
		s.Labels = append(s.Labels, fmt.Sprint(float64(i+1)/2))
		top = max(top, s.Y[i])
	}
	for i := range s.Y {
		s.Y[i] /= max(top, 1e-30)
	}
	return s
}

func missingSeries(parts []stretch) finding.Series {
	s := finding.Series{Title: "Missing work through time", Shape: finding.Line, XName: "time", XUnit: "s", YName: "missing", YUnit: "cylinders"}
	for _, p := range parts {
		s.X, s.Y = append(s.X, (p.from+p.to)/2), append(s.Y, p.missing.value)
		s.Low, s.High = append(s.Low, p.missing.low), append(s.High, p.missing.high)
	}
	return s
}
