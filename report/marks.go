package report

import (
	"bytes"
	"fmt"
	"html"
	"math"
	"slices"
)

// drawLine draws Y over X. Long series are thinned to the lowest and highest
// value of each picture column, so no spike is lost.
func (p panel) drawLine(b *bytes.Buffer) {
	pen := "M"
	b.WriteString(`<path class="line" d="`)
	for _, i := range thin(p.Y, maxLinePoint) {
		if !finite(p.X[i]) || !finite(p.Y[i]) {
			pen = "M"
			continue
		}
		fmt.Fprintf(b, "%s%.1f %.1f", pen, p.x.at(p.X[i]), p.y.at(p.Y[i]))
		pen = "L"
	}
	b.WriteString("\"/>\n")
}

// drawMarks draws the marks inside the range as upright lines, their labels at
// the top.
func (p panel) drawMarks(b *bytes.Buffer) {
	for _, m := range p.Marks {
		if !finite(m.X) || m.X < p.x.low || m.X > p.x.high {
			continue
		}
		x := p.x.at(m.X)
		fmt.Fprintf(b, `<line class="mark" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/><text class="tick" x="%.1f" y="%.1f">%s</text>`+"\n",
			x, p.y.from, x, p.y.to, x+4, p.y.to+11, html.EscapeString(m.Label))
	}
}

// thin chooses which of y's indices to draw, in order, at most about limit.
func thin(y []float64, limit int) []int {
	var out []int
	if len(y) <= limit {
		for i := range y {
			out = append(out, i)
		}
		return out
	}
	bins := limit / 2
	for bin := range bins {
		from, to := bin*len(y)/bins, (bin+1)*len(y)/bins
		low, high := from, from
		for i := from; i < to; i++ {
			if y[i] < y[low] || math.IsNaN(y[low]) {
				low = i
			}
			if y[i] > y[high] || math.IsNaN(y[high]) {
				high = i
			}
		}
		out = append(out, min(low, high), max(low, high))
	}
	return slices.Compact(out)
}

// drawBand shades between Low and High where both are given.
func (p panel) drawBand(b *bytes.Buffer) {
	if len(p.Low) != len(p.X) || len(p.High) != len(p.X) {
		return
	}
	var there, back bytes.Buffer // the upper edge, and the lower one backwards
	for _, i := range thin(p.High, maxLinePoint) {
		if finite(p.X[i]) && finite(p.Low[i]) && finite(p.High[i]) {
			fmt.Fprintf(&there, "%.1f,%.1f ", p.x.at(p.X[i]), p.y.at(p.High[i]))
		}
	}
	for _, i := range slices.Backward(thin(p.Low, maxLinePoint)) {
		if finite(p.X[i]) && finite(p.Low[i]) && finite(p.High[i]) {
			fmt.Fprintf(&back, "%.1f,%.1f ", p.x.at(p.X[i]), p.y.at(p.Low[i]))
		}
	}
	fmt.Fprintf(b, `<polygon class="band" points="%s%s"/>`+"\n", there.String(), back.String())
}

// barSpacing is the least distance between neighbouring bars, 1 for a lone one.
func (p panel) barSpacing() float64 {
	x := slices.Clone(p.X)
	slices.Sort(x)
	spacing := math.Inf(1)
	for i := 1; i < len(x); i++ {
		if d := x[i] - x[i-1]; d > 0 {
			spacing = min(spacing, d)
		}
	}
	if math.IsInf(spacing, 0) {
		return 1
	}
	return spacing
}

// drawBars draws a bar from zero to each Y and its bounds as a whisker.
func (p panel) drawBars(b *bytes.Buffer) {
	width := p.barSpacing() * 0.62
	for i, v := range p.Y {
		if !finite(v) || !finite(p.X[i]) {
			continue
		}
		left, right := p.x.at(p.X[i]-width/2), p.x.at(p.X[i]+width/2)
		top, bottom := min(p.y.at(v), p.y.at(0)), max(p.y.at(v), p.y.at(0))
		fmt.Fprintf(b, `<rect class="bar" x="%.1f" y="%.1f" width="%.1f" height="%.1f" rx="2"/>`+"\n", left, top, right-left, bottom-top)
		if i < len(p.Low) && i < len(p.High) && finite(p.Low[i]) && finite(p.High[i]) {
			x := p.x.at(p.X[i])
			fmt.Fprintf(b, `<line class="whisker" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/>`+"\n", x, p.y.at(p.Low[i]), x, p.y.at(p.High[i]))
		}
	}
}
