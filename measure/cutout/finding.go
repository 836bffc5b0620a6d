package cutout

import (
	"fmt"
	"math"
	"strings"

	"halforder/engine"
	"halforder/finding"
)

// Version names the analysis in findings.
const Version = "cutout/1"

const confidence = 0.95

// Finding is the result in the common language of the measurements. Its
// likelihood is over joint patterns in firing order and holds no prior.
func (r Result) Finding() finding.Finding {
	f := finding.Finding{Analysis: Version, Verdict: r.verdict(), Sentence: r.Sentence(), Notes: r.Notes, Series: r.series()}
	for _, c := range r.Cylinders {
		if c.Strength.Sigma < 0 {
			continue
		}
		f.Quantities = append(f.Quantities, quantity(fmt.Sprintf("cylinder %d strength", c.Number), "", c.Strength))
	}
	for i, c := range r.Cuts {
		name := fmt.Sprintf("cut %d%s", i+1, ofCylinders(c.Cylinders))
		f.Quantities = append(f.Quantities,
			quantity(name+" begins", "s", Estimate{c.Start, timeSigma(c.Seen)}),
			quantity(name+" ends", "s", Estimate{c.End, timeSigma(c.EndSeen)}),
			quantity(name+" early drop", "rpm", c.Drop))
		if finite(c.Rise.Sigma) {
			f.Quantities = append(f.Quantities, quantity(name+" rise at the end", "rpm", c.Rise))
		}
		f.Quantities = append(f.Quantities, optional(name+" change of "+r.Effort, c.Effort)...)
		f.Quantities = append(f.Quantities, optional(name+" change of roughness", c.Rough)...)
	}
	if len(r.Patterns.Log) > 0 && len(r.Cuts) > 0 {
		f.Likelihood = &r.Patterns
	}
	return f
}

// timeSigma: ends that were seen are good to about a tenth of a second, others
// are where the hand usually was.
func timeSigma(seen bool) float64 {
	if seen {
		return 0.1
	}
	return 0.6
}

func quantity(name, unit string, e Estimate) finding.Quantity {
	const z = 1.96
	return finding.Quantity{Name: name, Unit: unit, Value: e.Value, Low: e.Value - z*e.Sigma, High: e.Value + z*e.Sigma, Confidence: confidence}
}

func optional(name string, e *Estimate) []finding.Quantity {
	if e == nil || !finite(e.Value) || !finite(e.Sigma) {
		return nil
	}
	return []finding.Quantity{quantity(name, "", *e)}
}

func ofCylinders(set []engine.Cylinder) string {
	if len(set) == 0 {
		return ""
	}
	return " (cylinder " + joined(set, "+") + ")"
}

func joined(set []engine.Cylinder, with string) string {
	var parts []string
	for _, c := range set {
		parts = append(parts, fmt.Sprint(int(c)))
	}
	return strings.Join(parts, with)
}

func (r Result) verdict() finding.Verdict {
	if len(r.by(Weak)) > 0 || len(r.by(Dead)) > 0 || len(r.Sets) > 0 {
		return finding.Misfire
	}
	if len(r.by(Works)) == len(r.Cylinders) {
		return finding.NoMisfire
	}
	return finding.CannotTell
}

// by lists the cylinders with a verdict.
func (r Result) by(v Verdict) (out []engine.Cylinder) {
	for _, c := range r.Cylinders {
		if c.Verdict == v {
			out = append(out, c.Number)
		}
	}
	return out
}

// Sentence is the result in one line for the technician.
func (r Result) Sentence() string {
	var parts []string
	say := func(set []engine.Cylinder, one, many string) {
		if len(set) == 1 {
			parts = append(parts, "cylinder "+joined(set, "")+" "+one)
		} else if len(set) > 1 {
			parts = append(parts, "cylinders "+engine.Listed(set)+" "+many)
		}
	}
	say(r.by(Dead), "gives nothing", "give nothing")
	say(r.by(Weak), "gives too little", "give too little")
	inSet := map[engine.Cylinder]bool{}
	for _, s := range r.Sets {
		for _, c := range s.Cylinders {
			inSet[c] = true
		}
		if len(s.Cylinders) == 1 {
			parts = append(parts, fmt.Sprintf("cylinder %d seems to give too little: cut it again to be sure", s.Cylinders[0]))
			continue
		}
		parts = append(parts, fmt.Sprintf("of cylinders %s at least one gives too little, and this test cannot tell which; cut %s again", engine.Listed(s.Cylinders), engine.Listed(s.Repeat)))
	}
	good := r.by(Works)
	if len(good) == len(r.Cylinders) {
		return "Every cylinder does its share in this test."
	}
	say(good, "works", "work")
	var open []engine.Cylinder
	for _, c := range r.by(CannotTell) {
		if !inSet[c] {
			open = append(open, c)
		}
	}
	if len(open) == len(r.Cylinders) {
		return "This test cannot tell the cylinders apart."
	}
	say(open, "cannot be told", "cannot be told")
	text := strings.Join(parts, "; ")
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

// series are the time line with the cuts shaded, and the cylinders' strengths.
func (r Result) series() []finding.Series {
	out := []finding.Series{}
	if len(r.line.T) > 0 {
		out = append(out, r.timeLine())
	}
	s := finding.Series{Title: "What each cylinder gives, 1 is the healthy ones", Shape: finding.Bars, XName: "cylinder", YName: "share of a healthy cylinder"}
	for _, c := range r.Cylinders {
		if c.Strength.Sigma < 0 {
			continue
		}
		s.X, s.Y = append(s.X, float64(c.Number)), append(s.Y, c.Strength.Value)
		s.Low, s.High = append(s.Low, c.Strength.Value-1.96*c.Strength.Sigma), append(s.High, c.Strength.Value+1.96*c.Strength.Sigma)
		s.Labels = append(s.Labels, fmt.Sprint(int(c.Number)))
	}
	if len(s.X) > 0 {
		out = append(out, s)
	}
	return out
}

// timeLine is the speed, with a band over the whole height during each cut and
// none outside.
func (r Result) timeLine() finding.Series {
	s := finding.Series{Title: "Engine speed, cuts shaded", Shape: finding.Line, XName: "time", XUnit: "s", YName: "speed", YUnit: "rpm", X: r.line.T, Y: r.line.Y}
	low, high := math.Inf(1), math.Inf(-1)
	for _, y := range s.Y {
		low, high = min(low, y), max(high, y)
	}
	for i, t := range s.X {
		inCut := false
		for _, c := range r.Cuts {
			inCut = inCut || t >= c.Start && t < c.End
		}
		if inCut {
			s.Low, s.High = append(s.Low, low), append(s.High, high)
		} else {
			s.Low, s.High = append(s.Low, s.Y[i]), append(s.High, s.Y[i])
		}
	}
	return s
}
