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
	"plots":   inlinePlots,
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

// inlinePlots is a picture for each series, so that paper may break between them. It is
// safe HTML because picture escapes every text it is given.
func inlinePlots(series []finding.Series) template.HTML {
	var b bytes.Buffer
	for i := range series {
		picture(&b, series[i].Title, "", series[i:i+1])
	}
	return template.HTML(b.String()) //nolint:gosec // see above
}
