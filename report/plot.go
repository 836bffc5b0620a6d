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
// screens get light ink. Plain colours stand first because many viewers of
// pictures know neither variables nor media.
const plotStyle = `
.hf text{font:13px system-ui,sans-serif;fill:#1b2530}
.hf .title{font-size:17px;font-weight:600}.hf .head{font-weight:600}.hf .tick{fill:#5b6772;font-size:12px}
.hf .grid{stroke:#d9dee2;stroke-width:1}.hf .zero{stroke:#5b6772;stroke-width:1}
.hf .mark{stroke:#5b6772;stroke-width:1;stroke-dasharray:3 4}
.hf .line{fill:none;stroke:#0f5c78;stroke-width:1.8;stroke-linejoin:round}
.hf .band{fill:#b5532a;opacity:.22}.hf .bar{fill:#0f5c78}.hf .whisker{stroke:#b5532a;stroke-width:2}
.hf .paper{fill:#fff}
@media screen and (prefers-color-scheme:dark){
.hf text{fill:#e8edf1}.hf .tick{fill:#a3b0bb}.hf .grid{stroke:#36424d}.hf .zero,.hf .mark{stroke:#a3b0bb}
.hf .line{stroke:#6cc3e0}.hf .band{fill:#f0a07a}.hf .bar{fill:#6cc3e0}.hf .whisker{stroke:#f0a07a}.hf .paper{fill:#14191e}}`

// Plot writes series as one SVG picture, a panel each, under a title. Values
// that are no number leave a gap. The picture carries its own description for
// readers who cannot see it.
func Plot(w io.Writer, title string, series []finding.Series) error {
	var b bytes.Buffer
	picture(&b, title, title, series)
	_, err := w.Write(b.Bytes())
	return err
}

// picture draws series under a heading, or under none; name is what it is called to
// readers who cannot see it.
func picture(b *bytes.Buffer, name, heading string, series []finding.Series) {
	top := 0
	if heading != "" {
		top = titleHeight
	}
	height := top + panelHeight*len(series) + plotMargin
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" class="hf" viewBox="0 0 %d %d" width="%d" role="img">`+"\n",
		plotWidth, height, plotWidth)
	fmt.Fprintf(b, "<title>%s</title>\n<desc>%s</desc>\n<style>%s</style>\n", html.EscapeString(name), html.EscapeString(describe(series)), plotStyle)
	fmt.Fprintf(b, `<rect class="paper" width="%d" height="%d"/>`+"\n", plotWidth, height)
	if heading != "" {
		fmt.Fprintf(b, `<text class="title" x="%d" y="%d">%s</text>`+"\n", plotMargin, titleHeight-10, html.EscapeString(heading))
	}
	for i, s := range series {
		drawPanel(b, s, float64(top+i*panelHeight))
	}
	b.WriteString("</svg>\n")
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
		if s.Note != "" {
			fmt.Fprintf(&b, "marked: %s. ", s.Note)
		}
		for _, m := range s.Marks {
			fmt.Fprintf(&b, "%s at %.0f %s. ", m.Label, m.X, s.XUnit)
		}
	}
	return b.String()
}
