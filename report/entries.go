package report

import (
	"fmt"
	"sort"

	"halforder/finding"
	"halforder/job"
	"halforder/reason/belief"
)

// measured lists recordings with what was found in them, and typed readings, in
// the order they were entered.
func measured(j Job) []Entry {
	var out []Entry
	for _, r := range j.Card.Recordings {
		out = append(out, recorded(j.Card, r))
	}
	for _, r := range j.Card.AllReadings() {
		out = append(out, entered(j, r))
	}
	for _, n := range j.Card.Notes {
		out = append(out, entry(n.Event, "note", n.What.Text))
	}
	return inOrder(out)
}

func entry(e job.Event, what, result string) Entry {
	return Entry{Number: e.Seq, At: e.At, By: e.By, What: what, Result: result}
}

func recorded(c *job.Card, r job.Stamped[job.Recorded]) Entry {
	what := fmt.Sprintf("%s recording %s", r.What.Sensor, r.What.Name)
	if w := regimeWords(r.What.Regime); w != "" {
		what += ", " + w
	}
	out := entry(r.Event, what, "")
	for _, f := range c.Findings {
		if f.What.SHA256 != r.What.SHA256 {
			continue
		}
		out.Result = f.What.Finding.Sentence
		for _, q := range f.What.Finding.Quantities {
			out.Notes = append(out.Notes, QuantityText(q))
		}
		out.Notes = append(out.Notes, f.What.Finding.Notes...)
		out.Plots = append(out.Plots, f.What.Finding.Series...)
	}
	return out
}

// QuantityText writes a measured number with its name and bounds.
func QuantityText(q finding.Quantity) string { return q.Name + ": " + quantityValue(q) }

func quantityValue(q finding.Quantity) string {
	step := lastPlace(q)
	text := tickText(roundTo(q.Value, step))
	if q.Unit != "" {
		text += " " + q.Unit
	}
	if q.Confidence > 0 && q.Low != q.High {
		text += fmt.Sprintf(" (%s to %s, %.0f %% sure)", tickText(roundTo(q.Low, step)), tickText(roundTo(q.High, step)), 100*q.Confidence)
	}
	return text
}

func entered(j Job, r job.Stamped[job.Entered]) Entry {
	what := r.What.Check
	if k, err := j.Catalogue.Check(what); err == nil {
		what = k.Title
	}
	if w := regimeWords(r.What.Regime); w != "" && r.What.Regime != "any" {
		what += ", " + w
	}
	out := entry(r.Event, what, r.What.Describe(j.Catalogue, j.Card.Layout()))
	out.Notes = nonEmpty(r.What.Words)
	if r.What.Miss != belief.Unknown {
		out.Notes = append(out.Notes, "the miss was "+string(r.What.Miss))
	}
	return out
}

// done lists swaps and repairs.
func done(c *job.Card) []Entry {
	var out []Entry
	for _, s := range c.Swaps {
		e := entry(s.Event, fmt.Sprintf("%s of cylinders %d and %d swapped", s.What.Part, s.What.A, s.What.B), "outcome not entered yet")
		if s.Watched != nil {
			e.Result = followWords(s)
			e.Notes = watchedNotes(s.Watched.What)
		}
		out = append(out, e)
	}
	for _, r := range c.Repairs {
		out = append(out, repaired(r))
	}
	return inOrder(out)
}

func followWords(s job.Swap) string {
	switch s.Watched.What.Outcome {
	case belief.Follows:
		return fmt.Sprintf("the miss follows the part to %d", s.What.B)
	case belief.Stays:
		return fmt.Sprintf("the miss stays at %d", s.What.A)
	case belief.Vanishes:
		return "the miss vanished: contact or seat disturbed, or it comes and goes; nothing to sell on this"
	}
	return fmt.Sprintf("a miss at %d and %d, or elsewhere", s.What.A, s.What.B)
}

func watchedNotes(w job.SwapWatched) []string {
	if w.BeforeS == 0 && w.AfterS == 0 {
		return []string{"how long it was watched is not noted"}
	}
	return []string{fmt.Sprintf("watched %s before and %s after", Duration(w.BeforeS), Duration(w.AfterS))}
}

func repaired(r job.Stamped[job.Repaired]) Entry {
	if r.What.Part == "" {
		return entry(r.Event, r.What.Words, "")
	}
	old := r.Seating.At(r.What.Part, r.What.Cylinder)
	e := entry(r.Event, fmt.Sprintf("%s at cylinder %d renewed", r.What.Part, r.What.Cylinder), fmt.Sprintf("%s out, %s in", old, r.What.NewPart))
	e.Notes = nonEmpty(r.What.Words)
	return e
}

func inOrder(entries []Entry) []Entry {
	sort.SliceStable(entries, func(i, j int) bool { return entries[i].Number < entries[j].Number })
	return entries
}

// codes are those still stored in the car.
func codes(c *job.Card) []Fact {
	var out []Fact
	for _, code := range c.Codes {
		words := job.CodeWords(code)
		if words == "" {
			words = "see the list of codes"
		}
		out = append(out, Fact{code, words})
	}
	return out
}
