package report

import (
	"bytes"
	"fmt"
	"html"

	"halforder/finding"
)

// panel is one series on its axes.
type panel struct {
	finding.Series
	x, y axis
}

func drawPanel(b *bytes.Buffer, s finding.Series, top float64) {
	fmt.Fprintf(b, `<text class="head" x="%d" y="%g">%s</text>`+"\n", panelLeft, top+panelTop-14, html.EscapeString(s.Title))
	p, ok := newPanel(s, top)
	if !ok {
		fmt.Fprintf(b, `<text class="tick" x="%d" y="%g">nothing to draw</text>`+"\n", panelLeft, top+panelTop+20)
		return
	}
	p.drawFrame(b)
	if s.Shape == finding.Bars {
		p.drawBars(b)
		return
	}
	p.drawMarks(b)
	p.drawBand(b)
	p.drawLine(b)
}

func newPanel(s finding.Series, top float64) (panel, bool) {
	p := panel{Series: s,
		x: axis{from: panelLeft, to: plotWidth - plotMargin},
		y: axis{from: top + panelHeight - panelBottom, to: top + panelTop}}
	var okX, okY bool
	p.x.low, p.x.high, okX = extent(s.X)
	p.y.low, p.y.high, okY = extent(s.Y, s.Low, s.High)
	if !okX || !okY || len(s.X) != len(s.Y) {
		return p, false
	}
	if s.Shape == finding.Bars { // bars stand on zero and need half a place at each end
		p.y.low, p.y.high = min(p.y.low, 0), max(p.y.high, 0)
		half := p.barSpacing() / 2
		p.x.low, p.x.high = p.x.low-half, p.x.high+half
	}
	room := (p.y.high - p.y.low) * headroom
	if room == 0 {
		room = 1
	}
	p.y.high += room
	if len(s.Marks) > 0 { // their labels stand above the line
		p.y.high += 2 * room
	}
	if p.y.low != 0 {
		p.y.low -= room
	}
	return p, true
}

func (p panel) drawFrame(b *bytes.Buffer) {
	for _, v := range p.y.ticks(panelYTicks) {
		y := p.y.at(v)
		fmt.Fprintf(b, `<line class="grid" x1="%g" y1="%.1f" x2="%g" y2="%.1f"/><text class="tick" text-anchor="end" x="%d" y="%.1f">%s</text>`+"\n",
			p.x.from, y, p.x.to, y, panelLeft-8, y+4, tickText(v))
	}
	if p.y.low <= 0 && p.y.high >= 0 {
		fmt.Fprintf(b, `<line class="zero" x1="%g" y1="%.1f" x2="%g" y2="%.1f"/>`+"\n", p.x.from, p.y.at(0), p.x.to, p.y.at(0))
	}
	for _, t := range p.xTicks() {
		fmt.Fprintf(b, `<text class="tick" text-anchor="middle" x="%.1f" y="%g">%s</text>`+"\n", p.x.at(t.at), p.y.from+17, html.EscapeString(t.text))
	}
	if p.Note != "" {
		fmt.Fprintf(b, `<text class="tick" x="%d" y="%g">%s</text>`+"\n", panelLeft, p.y.from+34, html.EscapeString("marked: "+p.Note))
	}
	fmt.Fprintf(b, `<text class="tick" text-anchor="end" x="%g" y="%g">%s</text>`+"\n", p.x.to, p.y.from+34, html.EscapeString(withUnit(p.XName, p.XUnit)))
	fmt.Fprintf(b, `<text class="tick" text-anchor="end" x="%g" y="%g">%s</text>`+"\n", p.x.to, p.y.to-14, html.EscapeString(withUnit(p.YName, p.YUnit)))
}

type tick struct {
	at   float64
	text string
}

func (p panel) xTicks() []tick {
	var out []tick
	if len(p.Labels) == len(p.X) {
		for i, label := range p.Labels {
			out = append(out, tick{p.X[i], label})
		}
		return out
	}
	for _, v := range p.x.ticks(panelXTicks) {
		out = append(out, tick{v, tickText(v)})
	}
	return out
}

func withUnit(name, unit string) string {
	if unit == "" {
		return name
	}
	return name + ", " + unit
}
