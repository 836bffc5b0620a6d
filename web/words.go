package web

import (
	"fmt"
	"strings"

	"halforder/job"
	"halforder/reason/belief"
	"halforder/report"
)

// kindWords names a kind of entry.
func kindWords(body job.Body) string {
	switch body.(type) {
	case *job.Opened:
		return "opened"
	case *job.Recorded:
		return "recording"
	case *job.Found:
		return "finding"
	case *job.Entered:
		return "check"
	case *job.Swapped:
		return "swap"
	case *job.SwapWatched:
		return "swap watched"
	case *job.Repaired:
		return "repair"
	case *job.Proved:
		return "proof"
	case *job.Coded, *job.CodesCleared:
		return "codes"
	case *job.Agreed:
		return "consent"
	case *job.Numbered:
		return "numbering"
	case *job.Heated:
		return "catalyst"
	case *job.Noted:
		return "note"
	case *job.Undone:
		return "taken back"
	case *job.Closed:
		return "closed"
	}
	return "entry"
}

// words says what an entry says.
func (b *Bench) words(card *job.Card, body job.Body) string {
	switch e := body.(type) {
	case *job.Opened:
		return e.Car + ": " + b.Catalogue.Complaint(e.Complaint).Title
	case *job.Recorded:
		return fmt.Sprintf("%s, %s, %s", e.Sensor, e.Name, report.Duration(e.Seconds))
	case *job.Found:
		return e.Finding.Sentence
	case *job.Entered:
		return b.checkTitle(e.Check) + ": " + e.Describe(b.Catalogue, card.Layout())
	case *job.Swapped:
		return fmt.Sprintf("%s of %d and %d changed places", strings.Join(kindsOf(e), " and "), e.A, e.B)
	case *job.SwapWatched:
		return fmt.Sprintf("after swap %d the miss %s", e.Swap, followWords[e.Outcome])
	case *job.Repaired:
		return repairWords(e)
	case *job.Proved:
		if e.Proven {
			return "proven, " + report.Percent(e.Confidence) + " sure: " + e.Why
		}
		return "not proven: " + e.Why
	case *job.Coded:
		return job.CodesWords(e.Codes)
	case *job.CodesCleared:
		return "cleared in the car; readiness starts anew"
	case *job.Agreed:
		return strings.Trim(fmt.Sprintf("%s, up to %s, %s %s", e.Who, report.Money(int64(e.Limit)), e.How, e.Words), ", ")
	case *job.Numbered:
		return "numbering looked at and right: " + e.Engine.Title()
	case *job.Heated:
		return heatWords(card, e)
	case *job.Noted:
		return e.Text
	case *job.Undone:
		return strings.TrimSpace(fmt.Sprintf("entry %d %s", e.Seq, e.Why))
	case *job.Closed:
		return strings.Trim(e.Cause+", "+e.Words, ", ")
	}
	return ""
}

// heatWords says what a test did to the catalysts; one taken back is not folded.
func heatWords(card *job.Card, e *job.Heated) string {
	for _, h := range card.Heats {
		if h.Body == e {
			return h.Words()
		}
	}
	return fmt.Sprintf("%d steps of catalyst heat", len(e.Steps))
}

func (b *Bench) checkTitle(code string) string {
	if k, err := b.Catalogue.Check(code); err == nil {
		return k.Title
	}
	return code
}

func kindsOf(s *job.Swapped) []string {
	out := []string{string(s.Part)}
	for _, k := range s.Along {
		out = append(out, string(k))
	}
	return out
}

var followWords = map[belief.Follow]string{belief.Follows: "went with the part", belief.Stays: "stayed at the cylinder",
	belief.Vanishes: "vanished", belief.AtBoth: "is at both, or elsewhere"}

func repairWords(e *job.Repaired) string {
	if e.Part == "" {
		return e.Words
	}
	return strings.TrimSuffix(fmt.Sprintf("%s at %d renewed (%s in), %s", e.Part, e.Cylinder, e.NewPart, e.Words), ", ")
}
