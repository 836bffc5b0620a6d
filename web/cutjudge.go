package web

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"time"

	"halforder/job"
	"halforder/measure/cutout"
	"halforder/measure/cutout/script"
	"halforder/reason/fault"
)

// recording is what was gathered so far; the caller holds the lock.
func (c *cutRun) recording(marks []cutout.Mark) cutout.Recording {
	r := cutout.Recording{Layout: c.card.Layout(), Speed: copyTrack(c.speed), Rough: copyTrack(c.rough), Means: c.means}
	for _, m := range marks {
		m.At += c.start
		r.Marks = append(r.Marks, m)
	}
	if len(c.air.T) > 0 {
		r.Efforts = []cutout.Effort{{Name: "air", Unit: "g/s", Track: copyTrack(c.air)}}
	}
	return r
}

func copyTrack(t cutout.Track) cutout.Track {
	return cutout.Track{T: append([]float64(nil), t.T...), Y: append([]float64(nil), t.Y...)}
}

// judge reads the whole test, keeps it, and says the result.
func (c *cutRun) judge(phase script.Phase) {
	defer c.cancel()
	c.mu.Lock()
	rec := c.recording(c.script.Marks())
	c.mu.Unlock()
	if len(rec.Marks) == 0 {
		c.close("broken", "Stopped. Nothing was cut, so there is nothing to judge.", 0)
		return
	}
	if c.car == nil {
		c.say("Judging. Check that every connector is locked.")
		if again, err := c.heardAgain(rec); err == nil {
			rec = again
		} else {
			c.b.Log.Warn("the cut-out is judged as it was heard live", "error", err)
		}
	}
	result, err := cutout.Analyse(rec)
	if err != nil {
		c.close("broken", "The test cannot be judged: "+err.Error(), 0)
		return
	}
	f := result.Finding()
	entry, err := c.keep(rec, &job.Found{Finding: f})
	if err != nil {
		c.close("broken", "The result could not be put on the card: "+err.Error(), 0)
		return
	}
	words := f.Sentence
	if phase == script.Stopped {
		words = "Stopped early; put every plug back. So far: " + words
	}
	c.close("done", words, entry)
}

func (c *cutRun) close(ended, words string, entry int64) {
	c.mu.Lock()
	c.state.Ended, c.state.Words, c.state.Entry = ended, words, entry
	c.mu.Unlock()
	c.room.say("say", map[string]any{"words": words, "urgent": false})
	c.show(true)
	c.room.forget("cut")
}

// keep stores the tracks as a recording, and the finding on the card.
func (c *cutRun) keep(rec cutout.Recording, found *job.Found) (int64, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	data, err := json.Marshal(map[string]any{"engine": rec.Layout, "means": rec.Means, "speed": rec.Speed, "efforts": rec.Efforts, "rough": rec.Rough, "marks": rec.Marks})
	if err != nil {
		return 0, err
	}
	sum, size, err := c.b.Store.SaveRecording(ctx, bytes.NewReader(data))
	if err != nil {
		return 0, err
	}
	found.SHA256 = sum
	seconds := rec.Speed.T[len(rec.Speed.T)-1] - rec.Speed.T[0]
	recorded := &job.Recorded{SHA256: sum, Bytes: size, Name: "cut-out " + c.epoch.Local().Format("15-04-05") + ".json", Sensor: "cut-out",
		Place: string(c.means), RateHz: float64(len(rec.Speed.T)) / math.Max(seconds, 1), Seconds: seconds, Regime: fault.Idle}
	after, err := c.b.book.Add(ctx, c.card.ID, c.by, recorded, found)
	if err != nil {
		return 0, err
	}
	c.b.live.changed(after)
	return after.Last, nil
}
