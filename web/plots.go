package web

import (
	"bytes"
	"net/http"
	"strconv"

	"halforder/finding"
	"halforder/job"
	"halforder/report"
	"halforder/web/guard"
)

// findingAt is the finding of an entry.
func findingAt(card *job.Card, seqText string) (finding.Finding, error) {
	seq, _ := strconv.ParseInt(seqText, 10, 64)
	for _, f := range card.Findings {
		if f.Seq == seq {
			return f.What.Finding, nil
		}
	}
	return finding.Finding{}, wrong(http.StatusNotFound, "entry %s of this job is no finding", seqText)
}

// picture draws all series of a finding.
func (b *Bench) picture(w http.ResponseWriter, r *http.Request) error {
	card, err := b.card(r)
	if err != nil {
		return err
	}
	f, err := findingAt(card, r.PathValue("seq"))
	if err != nil {
		return err
	}
	var body bytes.Buffer
	if err := report.Plot(&body, f.Sentence, f.Series); err != nil {
		return err
	}
	w.Header().Set("Content-Security-Policy", guard.PrintPolicy)
	w.Header().Set("Content-Type", "image/svg+xml")
	_, err = w.Write(body.Bytes())
	return err
}

// plotWidth is how many points a plot gets at most: more than a tablet has
// columns, and both extremes of each bin are kept.
const plotWidth = 1600

// plotData gives one series of a finding for x from…to, thinned to what a
// screen can show.
func (b *Bench) plotData(w http.ResponseWriter, r *http.Request) error {
	card, err := b.card(r)
	if err != nil {
		return err
	}
	f, err := findingAt(card, r.PathValue("seq"))
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(r.PathValue("n"))
	if err != nil || n < 0 || n >= len(f.Series) {
		return wrong(http.StatusNotFound, "this finding has %d plots", len(f.Series))
	}
	from, fromErr := strconv.ParseFloat(r.FormValue("from"), 64)
	to, toErr := strconv.ParseFloat(r.FormValue("to"), 64)
	s := f.Series[n]
	if fromErr == nil && toErr == nil {
		s = between(s, from, to)
	}
	return writeJSON(w, http.StatusOK, thinned(s, plotWidth))
}

// between keeps the points of x from…to and one neighbour on either side.
func between(s finding.Series, from, to float64) finding.Series {
	if s.Shape == finding.Bars {
		return s
	}
	first, last := 0, len(s.X)
	for i, x := range s.X {
		if x < from {
			first = i
		}
		if x > to {
			last = min(i+1, len(s.X))
			break
		}
	}
	return pick(s, span(first, max(first, last)))
}

func span(from, to int) []int {
	out := make([]int, 0, to-from)
	for i := from; i < to; i++ {
		out = append(out, i)
	}
	return out
}

func pick(s finding.Series, at []int) finding.Series {
	rows := func(v []float64) []float64 {
		if len(v) != len(s.X) {
			return nil
		}
		out := make([]float64, len(at))
		for i, k := range at {
			out[i] = v[k]
		}
		return out
	}
	out := s
	out.X, out.Y, out.Low, out.High = rows(s.X), rows(s.Y), rows(s.Low), rows(s.High)
	if len(s.Labels) == len(s.X) {
		out.Labels = nil
		for _, k := range at {
			out.Labels = append(out.Labels, s.Labels[k])
		}
	}
	return out
}

// thinned keeps the lowest and highest point of each bin, so that a spike is
// never lost.
func thinned(s finding.Series, most int) finding.Series {
	n := len(s.X)
	if n <= most || s.Shape == finding.Bars || len(s.Y) != n {
		return s
	}
	bins := most / 2
	var at []int
	for i := range bins {
		low, high := i*n/bins, i*n/bins
		for k := low; k < (i+1)*n/bins; k++ {
			if s.Y[k] < s.Y[low] {
				low = k
			}
			if s.Y[k] > s.Y[high] {
				high = k
			}
		}
		at = append(at, min(low, high))
		if low != high {
			at = append(at, max(low, high))
		}
	}
	return pick(s, at)
}
