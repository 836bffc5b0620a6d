package web

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"time"

	"halforder/job"
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
// heard onto the card. A phone whose answer was lost on the way asks again and
// gets the same one.
func (b *Bench) finishTake(w http.ResponseWriter, r *http.Request) error {
	id := r.PathValue("take")
	if known := b.closings.find(id); known != nil {
		return known.tell(w)
	}
	t, err := b.takes.Get(id)
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
	return b.closings.once(id, func() (finishAnswer, error) { return b.keepTake(context.WithoutCancel(r.Context()), t, s.Name) }).tell(w)
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
	b.closings.turn <- struct{}{}
	defer func() { <-b.closings.turn }()
	recorded, found, err := b.kept(ctx, t, card)
	if err != nil {
		return finishAnswer{}, err
	}
	room := b.live.of(id)
	if before, ok := card.Recording(recorded.SHA256); ok { // a file brought twice, or an answer lost when the bench went down
		words := fmt.Sprintf("It is on the card already, as entry %d, and counts once.", before.Seq)
		return finishAnswer{words, recorded.Seconds, before.Seq}, b.discard(room, t)
	}
	mine := keptTake{sensor: t.Sensor, began: t.Began, ended: t.Began.Add(time.Duration(recorded.Seconds * float64(time.Second))), sha256: found.SHA256, found: found.Finding}
	bodies := room.joined(mine, card)
	after, err := b.book.Add(ctx, id, by, append([]job.Body{recorded}, bodies...)...)
	if err != nil {
		return finishAnswer{}, err
	}
	if len(bodies) == 1 {
		mine.entry = after.Last
		room.keep(mine)
	}
	found = bodies[len(bodies)-1].(*job.Found)
	room.deafen(t.ID)
	if err := b.takes.Remove(t.ID); err != nil {
		b.Log.Error("a finished take could not be cleared away", "take", t.ID, "error", err)
	}
	answer := finishAnswer{found.Finding.Sentence, recorded.Seconds, after.Last}
	room.say("take", map[string]any{"take": t.ID, "state": "kept", "sentence": answer.Sentence, "entry": after.Last, "seconds": answer.Seconds})
	room.forget("take")
	b.live.changed(after)
	return answer, nil
}

// kept brings the raw recording into the store and judges it.
func (b *Bench) kept(ctx context.Context, t *take.Take, card *job.Card) (*job.Recorded, *job.Found, error) {
	if err := t.Sync(); err != nil {
		return nil, nil, err
	}
	sum, size, err := b.save(ctx, t)
	if err != nil {
		return nil, nil, err
	}
	regime, err := fault.ParseRegime(t.Regime)
	if err != nil {
		regime = fault.Any
	}
	found, seconds, rate := b.live.judgeTake(t, card.Layout())
	return &job.Recorded{SHA256: sum, Bytes: size, Name: nameOf(t), Sensor: string(t.Sensor), Place: t.Place, RateHz: rate, Seconds: seconds, Regime: regime},
		&job.Found{SHA256: sum, Finding: found}, nil
}

func (b *Bench) dropTake(w http.ResponseWriter, r *http.Request) error {
	t, err := b.takeOf(r)
	if err != nil {
		return err
	}
	if err := b.discard(b.live.of(job.ID(t.Job)), t); err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]bool{"dropped": true})
}

// discard ends a take without a trace on the card.
func (b *Bench) discard(room *room, t *take.Take) error {
	room.deafen(t.ID)
	if err := b.takes.Remove(t.ID); err != nil {
		return err
	}
	room.say("take", map[string]any{"take": t.ID, "state": "dropped"})
	return nil
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
