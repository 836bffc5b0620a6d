package web

import (
	"math"
	"strings"
	"testing"
	"time"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/practice"
	"halforder/web/take"
)

func beginTake(t *testing.T, head take.Head) *take.Take {
	t.Helper()
	store, err := take.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	head.Key, head.Began = "judge-key", time.Now()
	got, err := store.Begin(head)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func appendTo(t *testing.T, to *take.Take, c take.Chunk) {
	t.Helper()
	if _, _, err := to.Append(c); err != nil {
		t.Fatal(err)
	}
}

// A phone that was locked for eleven seconds after five: both sides are judged,
// neither alone long enough for as many cycles, and the clock stays true.
func TestTakeIsJudgedOnBothSidesOfAGap(t *testing.T) {
	t.Parallel()
	x, layout := practiceFour(t, 12, "coil-open@3")
	const rate, from, lost = 48000, 5 * 48000, 11 * 48000
	sound := beginTake(t, take.Head{Sensor: take.Sound, RateHz: rate})
	var seq uint32
	for at := 0; at+4800 <= len(x); at += 4800 {
		first := uint64(at)
		if at >= from {
			first += lost
		}
		appendTo(t, sound, take.Chunk{Seq: seq, First: first, Data: take.PCM(x[at : at+4800])})
		seq++
	}
	f, seconds, _ := newRooms(nil).judgeTake(sound, layout)
	if math.Abs(seconds-23) > 0.2 || f.Verdict != finding.Misfire {
		t.Errorf("%g s, %s: %s", seconds, f.Verdict, f.Sentence)
	}
	whole, err := hearAll(x, rate, layout)
	if err != nil {
		t.Fatal(err)
	}
	cycles := func(f finding.Finding) float64 { q, _ := f.Quantity(order.MissingQuantity); return q.Value }
	if math.Abs(cycles(f)-cycles(whole)) > 0.15 {
		t.Errorf("%.2f cylinders' worth across the gap, %.2f without one", cycles(f), cycles(whole))
	}
	if last := lastTime(f); math.Abs(last-23) > 1 {
		t.Errorf("the speed ends at %.1f s, the recording at 23", last)
	}
	if notes := strings.Join(f.Notes, "; "); !strings.Contains(notes, "nothing was recorded for 11.0 s at 5.0 s") {
		t.Errorf("notes: %s", notes)
	}
}

// lastTime is where the speed of a finding ends.
func lastTime(f finding.Finding) float64 {
	for _, s := range f.Series {
		if s.YUnit == "rpm" && s.XUnit == "s" && len(s.X) > 0 {
			return s.X[len(s.X)-1]
		}
	}
	return math.NaN()
}

func practiceMoves(t testing.TB, seconds, hz float64, faults ...string) ([]take.Move, engine.Layout) {
	t.Helper()
	cfg, layout := runningFour(t, faults...)
	rec, _, err := practice.Run(cfg, practice.Watch(seconds), practice.Sensors{Phone: &practice.PhoneSensor{Hz: hz}})
	if err != nil {
		t.Fatal(err)
	}
	var out []take.Move
	for _, s := range rec.Phone {
		out = append(out, take.Move(s))
	}
	return out, layout
}

// What a phone felt is judged like what it heard: its speed is found, a sound
// engine is not accused and a dead cylinder not acquitted.
func TestMotionTakeIsJudged(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		faults []string
		hz     float64
		never  finding.Verdict
	}{{nil, 60, finding.Misfire}, {[]string{"coil-open@3"}, 60, finding.NoMisfire}, {[]string{"coil-open@3"}, 100, finding.NoMisfire}} {
		moves, layout := practiceMoves(t, 40, c.hz, c.faults...)
		motion := beginTake(t, take.Head{Sensor: take.Motion})
		for at := 0; at+8 <= len(moves); at += 8 {
			appendTo(t, motion, take.Chunk{Seq: uint32(at / 8), First: uint64(at), Data: take.MoveBytes(moves[at : at+8])})
		}
		f, seconds, rate := newRooms(nil).judgeTake(motion, layout)
		if f.Verdict == c.never || math.Abs(seconds-40) > 1 || math.Abs(rate/c.hz-1) > 0.1 {
			t.Errorf("%v: %s over %.1f s at %.0f Hz: %s", c.faults, f.Verdict, seconds, rate, f.Sentence)
		}
		if q, ok := f.Quantity(order.SpeedQuantity); !ok || math.Abs(q.Value-750) > 80 {
			t.Errorf("%v: %g rpm felt, the practice engine idles at about 750", c.faults, q.Value)
		}
		if last := f.Series[len(f.Series)-1]; last.YUnit != "m/s²" {
			t.Errorf("what the sensor gave is not on the card: %s", last.Title)
		}
	}
}

// Live, motion has a meter of its own that says the speed.
func TestFeelerShowsSpeed(t *testing.T) {
	t.Parallel()
	moves, layout := practiceMoves(t, 20, 60, "coil-open@3")
	f := &feeler{hearing: &hearing{layout: layout, wake: make(chan struct{}, 1)}}
	for at := 0; at+8 <= len(moves); at += 8 {
		f.feel(moves[at:at+8], uint64(at+8))
	}
	m, ok := f.judge()
	if !ok || math.Abs(m.RPM-750) > 80 || m.Over > feltSeconds+0.1 {
		t.Errorf("felt %+v", m)
	}
}

func TestMotionTooShortIsNoVerdict(t *testing.T) {
	t.Parallel()
	motion := beginTake(t, take.Head{Sensor: take.Motion})
	appendTo(t, motion, take.Chunk{Data: take.MoveBytes([]take.Move{{T: 1}, {T: 1.1}})})
	f, _, _ := newRooms(nil).judgeTake(motion, engine.Layout{})
	if f.Verdict != finding.CannotTell || !strings.Contains(f.Sentence, "kept but cannot be used") {
		t.Errorf("%s: %s", f.Verdict, f.Sentence)
	}
}

// After a restart the ear knows the end of what was recorded before.
func TestEarCatchesUp(t *testing.T) {
	t.Parallel()
	x, layout := practiceFour(t, 9, "coil-open@3")
	sound := beginTake(t, take.Head{Sensor: take.Sound, RateHz: 48000})
	for i := 0; (i+1)*4800 <= len(x); i++ {
		appendTo(t, sound, take.Chunk{Seq: uint32(i), First: uint64(i * 4800), Data: take.PCM(x[i*4800 : (i+1)*4800])})
	}
	e := quietEar(layout)
	if err := e.catchUp(sound, 8*48000); err != nil {
		t.Fatal(err)
	}
	if m, ok := e.judge(); !ok || math.Abs(m.RPM-750) > 60 || m.Samples != 8*48000 || m.Over < ringSeconds-0.2 {
		t.Errorf("heard %+v", m)
	}
}
