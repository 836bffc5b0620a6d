package web

import (
	"fmt"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/web/take"
)

// judgeTake hears or feels a whole take, around its gaps.
func (r *rooms) judgeTake(t *take.Take, layout engine.Layout) (f finding.Finding, seconds, rate float64) {
	if t.Sensor == take.Motion {
		return r.judgeMotion(t, layout)
	}
	f, err := r.hearTake(t, layout)
	if err != nil {
		f = unusable(order.Name, err)
	}
	f.Notes = append(f.Notes, notesOf(t)...)
	return f, t.Seconds(), t.RateHz
}

func unusable(analysis string, err error) finding.Finding {
	return finding.Finding{Analysis: analysis, Verdict: finding.CannotTell, Sentence: "The recording is kept but cannot be used: " + err.Error()}
}

// sliceSeconds of sound are judged at once; between two slices those who listen
// live have their turn.
const sliceSeconds = 2.0

// hearTake judges a sound take; where the phone recorded nothing, the analysis
// is told so.
func (r *rooms) hearTake(t *take.Take, layout engine.Layout) (f finding.Finding, err error) {
	l, err := order.NewListener(order.Config{Layout: layout}, t.RateHz)
	if err != nil {
		return f, err
	}
	var at uint64
	var slice []float32
	write := func() {
		if len(slice) > 0 {
			r.inTurn(func() { l.Write(slice) })
			slice = slice[:0]
		}
	}
	err = t.Each(func(c take.Chunk) error {
		if c.First > at {
			write()
			if err := l.Gap(float64(c.First-at) / t.RateHz); err != nil {
				return err
			}
		}
		slice = append(slice, take.Samples(c.Data)...)
		at = c.First + uint64(len(c.Data)/2)
		if float64(len(slice)) >= sliceSeconds*t.RateHz {
			write()
		}
		return nil
	})
	if err != nil {
		return f, err
	}
	write()
	r.inTurn(func() { f, err = l.Finish() })
	return f, err
}

// inTurn does a little work when nobody else is judging.
func (r *rooms) inTurn(work func()) {
	r.turn <- struct{}{}
	defer func() { <-r.turn }()
	work()
}

func notesOf(t *take.Take) []string {
	var out []string
	gaps := t.Ack().Gaps
	for i, g := range gaps {
		if i == 5 {
			out = append(out, fmt.Sprintf("and %d more gaps", len(gaps)-5))
			break
		}
		out = append(out, fmt.Sprintf("nothing was recorded for %.1f s at %.1f s", float64(g.Samples)/t.RateHz, float64(g.At)/t.RateHz))
	}
	if len(gaps) > 0 {
		out = append(out, "judged over all that was recorded on both sides of the gaps")
	}
	for _, flag := range []struct{ name, words string }{{"gain", "automatic gain"}, {"noise", "noise suppression"}, {"echo", "echo cancelling"}} {
		if t.Flags[flag.name] == "on" {
			out = append(out, "the phone did not switch off its "+flag.words+": strengths may be bent")
		}
	}
	return out
}

// judgeMotion feels a motion take. What the sensor gave stays on the card as a
// plot, whatever can be said of it.
func (r *rooms) judgeMotion(t *take.Take, layout engine.Layout) (f finding.Finding, seconds, rate float64) {
	var moves []take.Move
	err := t.Each(func(c take.Chunk) error { moves = append(moves, take.Moves(c.Data)...); return nil })
	if err == nil {
		r.inTurn(func() { f, err = order.Feel(shakes(moves), order.Config{Layout: layout}) })
	}
	if err != nil {
		f = unusable(order.FeelName, err)
	}
	if len(moves) < 2 {
		return f, 0, 0
	}
	s := shakeOf(t.ID, moves, t.Ack())
	f.Quantities = append(f.Quantities, finding.Quantity{Name: "shaking", Unit: "m/s²", Value: s.RMS, Low: s.RMS, High: s.RMS})
	f.Series = append(f.Series, feltSeries(moves))
	return f, moves[len(moves)-1].T - moves[0].T, s.Hz
}

func shakes(moves []take.Move) []order.Shake {
	out := make([]order.Shake, len(moves))
	for i, m := range moves {
		out[i] = order.Shake{Seconds: m.T, Axes: [3]float64{m.X, m.Y, m.Z}}
	}
	return out
}

func feltSeries(moves []take.Move) finding.Series {
	out := finding.Series{Title: "What the phone felt", Shape: finding.Line, XName: "time", XUnit: "s", YName: "along z", YUnit: "m/s²"}
	for _, m := range moves {
		out.X, out.Y = append(out.X, m.T-moves[0].T), append(out.Y, m.Z)
	}
	return out
}
