package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"halforder/engine"
	"halforder/finding"
	"halforder/job"
	"halforder/measure/cutout"
	"halforder/reason/fault"
	"halforder/report"
)

// cutAnalysis names the hands-free test in findings.
const cutAnalysis = "cut-out/1"

// recording is what was gathered so far.
func (c *cutRun) recording() cutout.Recording {
	c.mu.Lock()
	defer c.mu.Unlock()
	r := cutout.Recording{Layout: c.card.Layout(), Speed: copyTrack(c.speed), Rough: copyTrack(c.rough), Marks: append([]cutout.Mark(nil), c.marks...)}
	if len(c.air.T) > 0 {
		r.Efforts = []cutout.Effort{{Name: "air", Unit: "g/s", Track: copyTrack(c.air)}}
	}
	return r
}

func copyTrack(t cutout.Track) cutout.Track {
	return cutout.Track{T: append([]float64(nil), t.T...), Y: append([]float64(nil), t.Y...)}
}

// judge reads the whole test, keeps it, and says the result.
func (c *cutRun) judge() {
	c.phase("judge")
	c.show()
	rec := c.recording()
	result, err := cutout.Analyse(rec)
	if err != nil {
		c.say("broken", 0, "The test cannot be judged: "+err.Error(), true)
		return
	}
	f := cutFinding(rec, result)
	entry, err := c.keep(rec, f)
	if err != nil {
		c.say("broken", 0, "The result could not be put on the card: "+err.Error(), true)
		return
	}
	c.mu.Lock()
	c.state.Entry = entry
	c.mu.Unlock()
	c.say("done", 0, f.Sentence, true)
}

// keep stores the tracks as a recording, and the finding on the card.
func (c *cutRun) keep(rec cutout.Recording, f finding.Finding) (int64, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	data, err := json.Marshal(map[string]any{"engine": rec.Layout, "speed": rec.Speed, "efforts": rec.Efforts, "rough": rec.Rough, "marks": rec.Marks, "way": c.way})
	if err != nil {
		return 0, err
	}
	sum, size, err := c.b.Store.SaveRecording(ctx, bytes.NewReader(data))
	if err != nil {
		return 0, err
	}
	seconds := rec.Speed.T[len(rec.Speed.T)-1] - rec.Speed.T[0]
	recorded := &job.Recorded{SHA256: sum, Bytes: size, Name: "cut-out " + c.epoch.Local().Format("15-04-05") + ".json", Sensor: "cut-out",
		Place: string(c.way) + " plugs", RateHz: float64(len(rec.Speed.T)) / math.Max(seconds, 1), Seconds: seconds, Regime: fault.Idle}
	after, err := c.b.book.Add(ctx, c.card.ID, c.by, recorded, &job.Found{SHA256: sum, Finding: f})
	if err != nil {
		return 0, err
	}
	c.b.live.changed(after)
	return after.Last, nil
}

// cutFinding words a result.
func cutFinding(rec cutout.Recording, r cutout.Result) finding.Finding {
	patterns := r.Patterns
	f := finding.Finding{Analysis: cutAnalysis, Verdict: finding.CannotTell, Likelihood: &patterns, Notes: r.Notes, Sentence: cutSentence(r)}
	for _, x := range r.Cylinders {
		if x.Verdict == cutout.Weak || x.Verdict == cutout.Dead {
			f.Verdict = finding.Misfire
		}
	}
	if allWork(r) {
		f.Verdict = finding.NoMisfire
	}
	bars := finding.Series{Title: "What each cylinder gives, against a healthy one", Shape: finding.Bars, XName: "cylinder", YName: "share"}
	for _, x := range r.Cylinders {
		s := x.Strength
		if !(s.Sigma >= 0) || math.IsInf(s.Sigma, 0) {
			continue
		}
		f.Quantities = append(f.Quantities, finding.Quantity{Name: fmt.Sprintf("cylinder %d", x.Number), Unit: "of a healthy one", Value: s.Value, Low: s.Value - 1.645*s.Sigma, High: s.Value + 1.645*s.Sigma, Confidence: 0.9})
		bars.X, bars.Y = append(bars.X, float64(len(bars.X)+1)), append(bars.Y, s.Value)
		bars.Low, bars.High = append(bars.Low, s.Value-1.645*s.Sigma), append(bars.High, s.Value+1.645*s.Sigma)
		bars.Labels = append(bars.Labels, fmt.Sprint(x.Number))
	}
	f.Series = []finding.Series{bars, {Title: "Engine speed", Shape: finding.Line, XName: "time", XUnit: "s", YName: "speed", YUnit: "rpm", X: rec.Speed.T, Y: rec.Speed.Y}}
	return f
}

func allWork(r cutout.Result) bool {
	for _, x := range r.Cylinders {
		if x.Verdict != cutout.Works {
			return false
		}
	}
	return true
}

// cutSentence says the result as it can be spoken.
func cutSentence(r cutout.Result) string {
	named := map[cutout.Verdict][]engine.Cylinder{}
	for _, x := range r.Cylinders {
		named[x.Verdict] = append(named[x.Verdict], x.Number)
	}
	var parts []string
	for _, v := range []struct {
		verdict  cutout.Verdict
		one, all string
	}{{cutout.Dead, "gives nothing", "give nothing"}, {cutout.Weak, "is weak", "are weak"}} {
		if at := named[v.verdict]; len(at) == 1 {
			parts = append(parts, fmt.Sprintf("cylinder %d %s", at[0], v.one))
		} else if len(at) > 1 {
			parts = append(parts, fmt.Sprintf("%s %s", job.Places(at), v.all))
		}
	}
	for _, s := range r.Sets {
		parts = append(parts, "cannot tell "+eitherOf(s.Cylinders)+" apart")
	}
	if len(parts) == 0 {
		if allWork(r) {
			return "All cylinders give alike."
		}
		return "The cuts do not show which cylinder: cannot tell."
	}
	text := report.List(parts)
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

func eitherOf(c []engine.Cylinder) string {
	var out []string
	for _, n := range c {
		out = append(out, fmt.Sprint(n))
	}
	return report.List(out)
}
