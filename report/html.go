package report

import (
	"bytes"
	_ "embed"
	"html/template"
	"io"

	"halforder/finding"
)

//go:embed report.html
var pageSource string

var page = template.Must(template.New("report").Funcs(template.FuncMap{
	"percent": Percent,
	"clock":   clock,
	"width":   func(p float64) float64 { return 100 * min(max(p, 0), 1) },
	"plot":    inlinePlot,
}).Parse(pageSource))

// HTML writes the report as one page that needs nothing else: no script, no
// other file, readable on a phone, on a tablet and on paper.
func HTML(w io.Writer, r Report) error {
	var b bytes.Buffer // a page is written whole or not at all
	if err := page.Execute(&b, r); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

// inlinePlot is safe HTML because Plot escapes every text it is given.
func inlinePlot(title string, series []finding.Series) (template.HTML, error) {
	var b bytes.Buffer
	err := Plot(&b, title, series)
	return template.HTML(b.String()), err //nolint:gosec // see above
}
