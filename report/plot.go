package report

import (
	"bytes"
	"fmt"
	"html"
	"io"

	"halforder/finding"
)

// The picture's measures, in picture units (pixels at natural size).
const (
	plotWidth    = 760
	panelHeight  = 230
	plotMargin   = 12
	panelLeft    = 66
	panelTop     = 34
	panelBottom  = 44
	titleHeight  = 34
	panelXTicks  = 8
	panelYTicks  = 4
	headroom     = 0.06 // free share of the range above and below the values
	maxLinePoint = 1500 // more than the picture has columns
)

// plotStyle is our own: ink on paper, one petrol blue for what was measured and
// one rust for its bounds, told apart by shape as well (solid, shaded). Dark
// screens get light ink.
const plotStyle = `
.hf{--ink:#1b2530;--soft:#66727e;--grid:#d9dee2;--paper:#fff;--mark:#0f5c78;--bound:#b5532a}
@media (prefers-color-scheme:dark){.hf{--ink:#e8edf1;--soft:#9aa7b2;--grid:#36424d;--paper:#14191e;--mark:#6cc3e0;--bound:#f0a07a}}
@media print{.hf{--ink:#000;--soft:#444;--grid:#ccc;--paper:#fff;--mark:#0f5c78;--bound:#b5532a}}
.hf text{font:13px system-ui,sans-serif;fill:var(--ink)}
.hf .title{font-size:17px;font-weight:600}.hf .head{font-weight:600}.hf .tick{fill:var(--soft);font-size:12px}
.hf .grid{stroke:var(--grid);stroke-width:1}.hf .zero{stroke:var(--soft);stroke-width:1}
.hf .line{fill:none;stroke:var(--mark);stroke-width:1.8;stroke-linejoin:round}
.hf .band{fill:var(--bound);opacity:.22}.hf .bar{fill:var(--mark)}.hf .whisker{stroke:var(--bound);stroke-width:2}
.hf .paper{fill:var(--paper)}`

// Plot writes series as one SVG picture, a panel each, under a title. Values
// that are no number leave a gap. The picture carries its own description for
// readers who cannot see it.
func Plot(w io.Writer, title string, series []finding.Series) error {
	var b bytes.Buffer
	height := titleHeight + panelHeight*len(series) + plotMargin
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="hf" viewBox="0 0 %d %d" width="%d" role="img">`+"\n",
		plotWidth, height, plotWidth)
	fmt.Fprintf(&b, "<title>%s</title>\n<desc>%s</desc>\n<style>%s</style>\n", html.EscapeString(title), html.EscapeString(describe(series)), plotStyle)
	fmt.Fprintf(&b, `<rect class="paper" width="%d" height="%d"/>`+"\n", plotWidth, height)
	fmt.Fprintf(&b, `<text class="title" x="%d" y="%d">%s</text>`+"\n", plotMargin, titleHeight-10, html.EscapeString(title))
	for i, s := range series {
		drawPanel(&b, s, float64(titleHeight+i*panelHeight))
	}
	b.WriteString("</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

// describe says in words what the panels show.
func describe(series []finding.Series) string {
	var b bytes.Buffer
	for _, s := range series {
		low, high, ok := extent(s.Y)
		if !ok {
			fmt.Fprintf(&b, "%s: no values. ", s.Title)
			continue
		}
		fmt.Fprintf(&b, "%s: %s from %s to %s %s. ", s.Title, s.YName, tickText(low), tickText(high), s.YUnit)
	}
	return b.String()
}
