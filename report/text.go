package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"time"

	"halforder/finding"
)

// textWidth is a terminal's 80 columns.
const textWidth = 80

// Text writes the report for a terminal of 80 columns.
func Text(w io.Writer, r Report) error {
	b := textWriter{bufio.NewWriter(w)}
	b.line(0, fmt.Sprintf("JOB %d  %s  (%s)", r.Number, r.Car, r.Status))
	for _, f := range r.Facts {
		b.line(2, f.Name+": "+f.Value)
	}
	b.lines("COMPLAINT", r.Complaint)
	b.lines("CAUTION", r.Cautions)
	b.entries("MEASURED", r.Measured)
	b.claims(r)
	b.steps(r.Next)
	b.entries("DONE", r.Done)
	b.lines("PROOF", r.Proof)
	b.facts("CODES TO CLEAR", r.Codes)
	b.lines("STILL OPEN", r.Open)
	b.facts("TIME AND MONEY", r.Spent)
	b.lines("CLOSED", r.Closing)
	return b.Flush()
}

// NextText writes proposed steps alone.
func NextText(w io.Writer, steps []Step) error {
	b := textWriter{bufio.NewWriter(w)}
	b.steps(steps)
	return b.Flush()
}

// FindingText writes what a measurement showed: the sentence, the numbers one
// below the other, and the notes.
func FindingText(w io.Writer, f finding.Finding) error {
	b := textWriter{bufio.NewWriter(w)}
	b.line(0, f.Sentence)
	if len(f.Quantities) > 0 {
		fmt.Fprintln(b)
	}
	for _, q := range f.Quantities {
		fmt.Fprintf(b, "  %-30s %s\n", q.Name, quantityValue(q))
	}
	if len(f.Notes) > 0 {
		fmt.Fprintln(b)
	}
	for _, n := range f.Notes {
		b.line(2, n)
	}
	return b.Flush()
}

// Line writes text wrapped at a terminal's 80 columns, indented by so many; lines
// after the first hang two further in.
func Line(w io.Writer, indent int, text string) error {
	b := textWriter{bufio.NewWriter(w)}
	b.line(indent, text)
	return b.Flush()
}

type textWriter struct{ *bufio.Writer }

func (b textWriter) head(title string) { fmt.Fprintf(b, "\n%s\n", title) }

// line wraps words at the width; lines after the first hang two further in.
func (b textWriter) line(indent int, text string) {
	column := 0
	glued := strings.ReplaceAll(text, " %", "\u00a0%") // a number keeps its sign
	for i, word := range strings.FieldsFunc(glued, func(r rune) bool { return r == ' ' || r == '\n' }) {
		length := len([]rune(word))
		switch {
		case i == 0:
			fmt.Fprint(b, strings.Repeat(" ", indent), word)
			column = indent + length
		case column+1+length > textWidth:
			fmt.Fprint(b, "\n", strings.Repeat(" ", indent+2), word)
			column = indent + 2 + length
		default:
			fmt.Fprint(b, " ", word)
			column += 1 + length
		}
	}
	fmt.Fprintln(b)
}

func (b textWriter) lines(title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	b.head(title)
	for _, l := range lines {
		b.line(2, l)
	}
}

func (b textWriter) facts(title string, facts []Fact) {
	if len(facts) == 0 {
		return
	}
	b.head(title)
	for _, f := range facts {
		b.line(2, f.Name+": "+f.Value)
	}
}

func (b textWriter) entries(title string, entries []Entry) {
	if len(entries) == 0 {
		return
	}
	b.head(title)
	for _, e := range entries {
		text := e.What
		if e.Result != "" {
			text += ": " + e.Result
		}
		b.line(2, fmt.Sprintf("[%d] %s", e.Number, text))
		for _, n := range e.Notes {
			b.line(6, n)
		}
	}
}

func (b textWriter) claims(r Report) {
	if len(r.Believed) == 0 {
		return
	}
	b.head("BELIEVED")
	for _, c := range r.Believed {
		fmt.Fprintf(b, "  %10s  ", Percent(c.Probability))
		b.line(0, c.What)
	}
	for _, m := range r.Moved {
		b.line(2, m)
	}
}

func (b textWriter) steps(steps []Step) {
	if len(steps) == 0 {
		return
	}
	b.head("NEXT CHECK")
	for i, s := range steps {
		if i > 0 {
			b.line(2, "or: "+s.What+" ("+s.Cost+")")
			b.line(4, s.Why)
			continue
		}
		b.line(2, s.What+" ("+s.Cost+")")
		b.line(4, s.Why)
		for _, a := range s.Answers {
			b.line(4, "If "+a)
		}
		for _, n := range s.Needs {
			b.line(4, "Needs: "+n)
		}
		for _, c := range s.Stops {
			b.line(4, "STOP: "+c)
		}
		for _, c := range s.Cautions {
			b.line(4, "CAUTION: "+c)
		}
	}
}

// clock is a moment as a workshop writes it.
func clock(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }
