package order

import (
	"fmt"
	"math/cmplx"

	"halforder/engine"
	"halforder/finding"
)

// plotPoints is how finely one cycle is drawn.
const plotPoints = 360

// addSeries draws the last stretch, or one in which the firings have names, and
// speed and missing work through time.
func (h *heard) addSeries(f *finding.Finding, parts []stretch) {
	last := h.last()
	if len(last) >= minCycles {
		p := h.drawn(f.Likelihood, last)
		f.Series = append(f.Series, h.cycleSeries(p)...)
		f.Series = append(f.Series, p.run.orderSeries())
		if s := p.strengthSeries(); len(s.X) > 0 {
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
func (h *heard) cycleSeries(p placing) []finding.Series {
	f := p.run
	out := []finding.Series{p.unrolled(viewsOf(len(f.bands), h.harmonics, h.layout.N())[0], "bass")}
	best, top := 0, 0.0
	for b, p := range f.bands {
		if c := sq(p.mean[h.layout.N()-1]) / max(p.noise[h.layout.N()-1], 1e-30); b > 0 && c > top {
			best, top = b, c
		}
	}
	if best > 0 {
		out = append(out, p.unrolled(view{band: best, from: 1, to: h.harmonics}, h.bands[best].String()))
	}
	return out
}

// unrolled draws the mean cycle of a view, with a mark where each firing's
// place begins.
func (p placing) unrolled(v view, name string) finding.Series {
	f := p.run
	cut := newCut(f.activity(v), f.layout, v.power)
	labels, known := p.labels(v.low, cut.pulse(), f.layout)
	s := finding.Series{Title: fmt.Sprintf("One engine cycle%s, %s", p.when, name), Note: whose(known), Shape: finding.Line,
		XName: "crank angle", XUnit: "°", YName: "sound", YUnit: "of full scale", Y: wave(f.bands[v.band].mean, plotPoints)}
	for i := range s.Y {
		s.X = append(s.X, float64(engine.CycleDeg)*float64(i)/plotPoints)
	}
	points := float64(perSlot * f.layout.N())
	for k, start := range cut.starts {
		s.Marks = append(s.Marks, finding.Mark{X: float64(engine.CycleDeg) * float64(start) / points, Label: labels[k]})
	}
	return s
}

// strengthSeries shows the firings of the clearest view against the usual one.
func (p placing) strengthSeries() finding.Series {
	views := weigh(p.run)
	if len(views) == 0 {
		return finding.Series{}
	}
	best, base := views[0], map[bool]float64{}
	for _, v := range views {
		if _, ok := base[v.low]; !ok {
			base[v.low] = v.pulse
		}
		if mean(v.spread) < mean(best.spread) {
			best = v
		}
	}
	labels, known := p.labels(best.low, base[best.low], p.run.layout)
	s := finding.Series{Title: "Strength of the firings against the usual one" + p.when, Note: whose(known), Shape: finding.Bars,
		XName: "place in the firing order", YName: "strength", Labels: labels}
	for k, v := range best.strength {
		s.X, s.Y = append(s.X, float64(k+1)), append(s.Y, v)
		s.Low, s.High = append(s.Low, v-1.645*best.spread[k]), append(s.High, v+1.645*best.spread[k])
	}
	return s
}

// orderSeries shows the orders of the low band against the strongest.
func (f *folded) orderSeries() finding.Series {
	p := f.bands[0]
	s := finding.Series{Title: "Orders of the bass", Shape: finding.Bars, XName: "order", XUnit: "per crank turn", YName: "level against the strongest"}
	var top float64
	for i := range min(2*f.layout.N()+1, len(p.mean)) {
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
