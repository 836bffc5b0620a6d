package web

import (
	"context"
	"fmt"
	"io"
	"math"
	"net/http"

	"halforder/engine"
	"halforder/finding"
	"halforder/job"
	"halforder/measure/order"
	"halforder/reason/fault"
	"halforder/web/guard"
	"halforder/web/take"
)

type finishAsk struct {
	Chunks *uint32 `json:"chunks"` // how many the phone has sent; nil: whatever came
}

type finishAnswer struct {
	Sentence string  `json:"sentence"`
	Seconds  float64 `json:"seconds"`
	Entry    int64   `json:"entry"`
}

// finishTake closes a take: the raw recording goes into the store, what was
// heard onto the card.
func (b *Bench) finishTake(w http.ResponseWriter, r *http.Request) error {
	t, err := b.takeOf(r)
	if err != nil {
		return err
	}
	var ask finishAsk
	if err := readJSON(r, &ask); err != nil {
		return err
	}
	if ack := t.Ack(); ask.Chunks != nil && ack.Next < *ask.Chunks {
		return writeJSON(w, http.StatusConflict, takeAnswer{t.ID, ack})
	}
	s, _ := guard.Of(r)
	answer, err := b.keepTake(r.Context(), t, s.Name)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, answer)
}

// keepTake brings a take onto its card. On error it stays under way.
func (b *Bench) keepTake(ctx context.Context, t *take.Take, by string) (finishAnswer, error) {
	id := job.ID(t.Job)
	card, err := b.book.Card(ctx, id)
	if err != nil {
		return finishAnswer{}, err
	}
	if t.Ack().Samples == 0 {
		return finishAnswer{}, wrong(http.StatusUnprocessableEntity, "nothing was recorded: check that the phone may use its %s", sensorWord(t.Sensor))
	}
	if err := t.Sync(); err != nil {
		return finishAnswer{}, err
	}
	sum, size, err := b.save(ctx, t)
	if err != nil {
		return finishAnswer{}, err
	}
	regime, err := fault.ParseRegime(t.Regime)
	if err != nil {
		regime = fault.Any
	}
	found, seconds, rate := judgeTake(t, card.Layout())
	recorded := &job.Recorded{SHA256: sum, Bytes: size, Name: nameOf(t), Sensor: string(t.Sensor), Place: t.Place, RateHz: rate, Seconds: seconds, Regime: regime}
	after, err := b.book.Add(ctx, id, by, recorded, &job.Found{SHA256: sum, Finding: found})
	if err != nil {
		return finishAnswer{}, err
	}
	room := b.live.of(id)
	room.dropEar(t.ID)
	room.forget("meter", "level", "motion")
	if err := b.takes.Remove(t.ID); err != nil {
		b.Log.Error("a finished take could not be cleared away", "take", t.ID, "error", err)
	}
	answer := finishAnswer{found.Sentence, seconds, after.Last}
	room.say("take", map[string]any{"take": t.ID, "state": "kept", "sentence": found.Sentence, "entry": after.Last, "seconds": seconds})
	room.forget("take")
	b.live.changed(after)
	return answer, nil
}

func (b *Bench) dropTake(w http.ResponseWriter, r *http.Request) error {
	t, err := b.takeOf(r)
	if err != nil {
		return err
	}
	room := b.live.of(job.ID(t.Job))
	room.dropEar(t.ID)
	room.forget("meter", "level", "motion")
	if err := b.takes.Remove(t.ID); err != nil {
		return err
	}
	room.say("take", map[string]any{"take": t.ID, "state": "dropped"})
	return writeJSON(w, http.StatusOK, map[string]bool{"dropped": true})
}

func sensorWord(s take.Sensor) string {
	if s == take.Motion {
		return "motion sensor"
	}
	return "microphone"
}

func nameOf(t *take.Take) string {
	kind := "wav"
	if t.Sensor == take.Motion {
		kind = "csv"
	}
	if named, ok := t.Flags["file"]; ok {
		return plainName(named)
	}
	return plainName(fmt.Sprintf("%s %s.%s", t.Device, t.Began.Local().Format("15-04-05"), kind))
}

// save streams the recording into the store.
func (b *Bench) save(ctx context.Context, t *take.Take) (string, int64, error) {
	read, write := io.Pipe()
	go func() {
		var err error
		if t.Sensor == take.Motion {
			err = t.WriteCSV(write)
		} else {
			err = t.WriteWAV(write)
		}
		write.CloseWithError(err)
	}()
	defer read.Close()
	return b.Store.SaveRecording(ctx, read)
}

// judgeTake hears a sound take in full: the longest stretch without a gap.
func judgeTake(t *take.Take, layout engine.Layout) (f finding.Finding, seconds, rate float64) {
	if t.Sensor == take.Motion {
		return judgeMotion(t)
	}
	ack := t.Ack()
	from, to := longest(ack, uint64(math.Round(t.Seconds()*t.RateHz)))
	seconds = t.Seconds()
	l, err := order.NewListener(order.Config{Layout: layout}, t.RateHz)
	if err == nil {
		err = t.Each(func(c take.Chunk) error {
			if c.First >= from && c.First < to {
				l.Write(take.Samples(c.Data))
			}
			return nil
		})
	}
	if err == nil {
		f, err = l.Finish()
	}
	if err != nil {
		f = finding.Finding{Analysis: order.Name, Verdict: finding.CannotTell, Sentence: "The recording is kept but cannot be used: " + err.Error()}
	}
	f.Notes = append(f.Notes, notesOf(t, ack, from, to)...)
	return f, seconds, t.RateHz
}

// longest finds the longest stretch without a gap.
func longest(ack take.Ack, end uint64) (from, to uint64) {
	var start uint64
	for _, g := range append(ack.Gaps, take.Gap{At: end}) {
		if g.At-start > to-from {
			from, to = start, g.At
		}
		start = g.At + g.Samples
	}
	return from, to
}

func notesOf(t *take.Take, ack take.Ack, from, to uint64) []string {
	var out []string
	for i, g := range ack.Gaps {
		if i == 5 {
			out = append(out, fmt.Sprintf("and %d more gaps", len(ack.Gaps)-5))
			break
		}
		out = append(out, fmt.Sprintf("nothing was recorded for %.1f s at %.1f s", float64(g.Samples)/t.RateHz, float64(g.At)/t.RateHz))
	}
	if len(ack.Gaps) > 0 {
		out = append(out, fmt.Sprintf("judged over the longest unbroken stretch, %.1f s to %.1f s", float64(from)/t.RateHz, float64(to)/t.RateHz))
	}
	for _, flag := range []struct{ name, words string }{{"gain", "automatic gain"}, {"noise", "noise suppression"}, {"echo", "echo cancelling"}} {
		if t.Flags[flag.name] == "on" {
			out = append(out, "the phone did not switch off its "+flag.words+": strengths may be bent")
		}
	}
	return out
}

// judgeMotion says what a phone's motion sensor felt. Its few samples a second
// name no cylinder.
func judgeMotion(t *take.Take) (f finding.Finding, seconds, rate float64) {
	var all []take.Move
	err := t.Each(func(c take.Chunk) error { all = append(all, take.Moves(c.Data)...); return nil })
	f = finding.Finding{Analysis: "motion/1", Verdict: finding.CannotTell}
	if err != nil || len(all) < 2 {
		f.Sentence = "The motion recording is kept but cannot be used: too few samples."
		return f, 0, 0
	}
	seconds = all[len(all)-1].T - all[0].T
	s := shakeOf(t.ID, all, t.Ack())
	series := finding.Series{Title: "What the phone felt", Shape: finding.Line, XName: "time", XUnit: "s", YName: "along z", YUnit: "m/s²"}
	for _, m := range all {
		series.X, series.Y = append(series.X, m.T-all[0].T), append(series.Y, m.Z)
	}
	f.Series = []finding.Series{series}
	f.Quantities = []finding.Quantity{{Name: "shaking", Unit: "m/s²", Value: s.RMS, Low: s.RMS, High: s.RMS}, {Name: "samples a second", Unit: "Hz", Value: s.Hz, Low: s.Hz, High: s.Hz}}
	f.Sentence = fmt.Sprintf("The phone shook with %.2f m/s² over %.0f s; at %.0f samples a second orders above %.0f Hz were out of reach.", s.RMS, seconds, s.Hz, s.Hz/2)
	return f, seconds, s.Hz
}
