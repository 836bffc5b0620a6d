package take

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// Sensor is what a take records, and so how its samples are stored.
type Sensor string

// The sensors. Sound is mono 16 bit little-endian PCM. Motion is records of a
// float64 time in seconds and three float32 accelerations in m/s².
const (
	Sound  Sensor = "sound"
	Motion Sensor = "motion"
)

func (s Sensor) sampleBytes() int {
	if s == Motion {
		return 20
	}
	return 2
}

// Head says what a take is; it is kept beside the chunks.
type Head struct {
	ID     string            `json:"id"`
	Key    string            `json:"key"` // chosen by the phone, so that asking twice begins once
	Job    int64             `json:"job"`
	Sensor Sensor            `json:"sensor"`
	RateHz float64           `json:"rate_hz"`
	Place  string            `json:"place,omitempty"`
	Regime string            `json:"regime,omitempty"`
	Device string            `json:"device,omitempty"`
	Flags  map[string]string `json:"flags,omitempty"` // what the browser granted: echo, noise, gain
	Stops  []string          `json:"stops,omitempty"` // hard stops that were confirmed before the engine ran
	Began  time.Time         `json:"began"`
}

// Check says what is wrong with a head.
func (h Head) Check() error {
	switch {
	case h.Sensor != Sound && h.Sensor != Motion:
		return fmt.Errorf("unknown sensor %q: use sound or motion", h.Sensor)
	case h.Sensor == Sound && !(h.RateHz >= 4000 && h.RateHz <= 384000):
		return fmt.Errorf("a sample rate of %g Hz: expected 4000 to 384000", h.RateHz)
	case len(h.Key) < 8 || len(h.Key) > 64:
		return errors.New("the take has no key: expected 8 to 64 characters chosen by the phone")
	case len(h.Place) > 200 || len(h.Device) > 200 || len(h.Flags) > 20 || len(h.Stops) > 20:
		return errors.New("place, device, flags or stops are too long")
	}
	return nil
}

// Gap is a stretch that the phone did not record.
type Gap struct {
	At      uint64 `json:"at"` // first sample missing
	Samples uint64 `json:"samples"`
}

// Ack is how far a take has come.
type Ack struct {
	Next    uint32 `json:"next"`    // chunk wanted; those before survive the server
	Safe    uint32 `json:"safe"`    // those before survive the machine
	Samples uint64 `json:"samples"` // recorded, gaps not counted
	Gaps    []Gap  `json:"gaps,omitempty"`
}

// AheadError is a chunk that came before its turn.
type AheadError struct{ Want uint32 }

func (e *AheadError) Error() string { return fmt.Sprintf("chunk %d is wanted first", e.Want) }

// ErrFinished is a chunk for a take that is closed.
var ErrFinished = errors.New("this take is finished")

const (
	mostBytes = 2 << 30   // three hours of sound at 96 kHz
	mostGap   = 2 * 86400 // seconds; longer is a broken clock
)

// Take is one recording under way. Safe for concurrent use.
type Take struct {
	Head
	dir string

	mu     sync.Mutex
	file   *os.File
	ack    Ack
	end    uint64 // index after the last sample
	bytes  int64
	done   bool
	syncMu sync.Mutex
}

func openTake(dir string, head Head) (*Take, error) {
	file, err := os.OpenFile(filepath.Join(dir, "chunks"), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, err
	}
	t := &Take{Head: head, dir: dir, file: file}
	if err := t.recover(); err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return t, nil
}

// recover counts what is in the file and cuts off a torn end: it was never
// acknowledged.
func (t *Take) recover() error {
	r := bufio.NewReader(t.file)
	for {
		c, err := readChunk(r)
		if err != nil || c.Seq != t.ack.Next {
			break
		}
		t.count(c)
		t.bytes += int64(headBytes + len(c.Data))
	}
	if err := t.file.Truncate(t.bytes); err != nil {
		return err
	}
	if _, err := t.file.Seek(t.bytes, io.SeekStart); err != nil {
		return err
	}
	t.ack.Safe = t.ack.Next
	return t.file.Sync()
}

func (t *Take) count(c Chunk) {
	n := uint64(len(c.Data) / t.Sensor.sampleBytes())
	if c.First > t.end {
		t.ack.Gaps = append(t.ack.Gaps, Gap{t.end, c.First - t.end})
	}
	t.end = c.First + n
	t.ack.Samples += n
	t.ack.Next++
}

// Append keeps a chunk. fresh is false when it was there already. Errors:
// *AheadError, ErrFinished, a chunk that makes no sense, or the disk's.
func (t *Take) Append(c Chunk) (ack Ack, fresh bool, err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	switch {
	case c.Seq < t.ack.Next:
		return t.ackNow(), false, nil
	case t.done:
		return t.ackNow(), false, ErrFinished
	case c.Seq > t.ack.Next:
		return t.ackNow(), false, &AheadError{t.ack.Next}
	}
	if err := t.fits(c); err != nil {
		return t.ackNow(), false, err
	}
	stored := c.appendTo(make([]byte, 0, headBytes+len(c.Data)))
	if _, err := t.file.WriteAt(stored, t.bytes); err != nil {
		return t.ackNow(), false, fmt.Errorf("the recording could not be kept: %w", err)
	}
	t.bytes += int64(len(stored))
	t.count(c)
	return t.ackNow(), true, nil
}

func (t *Take) fits(c Chunk) error {
	rate := max(t.RateHz, 1)
	switch {
	case len(c.Data) == 0 || len(c.Data) > MaxChunk || len(c.Data)%t.Sensor.sampleBytes() != 0:
		return fmt.Errorf("a chunk of %d bytes: expected 1 to %d whole samples of %d bytes", len(c.Data), MaxChunk/t.Sensor.sampleBytes(), t.Sensor.sampleBytes())
	case c.First < t.end:
		return fmt.Errorf("chunk %d begins at sample %d, but %d were recorded already", c.Seq, c.First, t.end)
	case float64(c.First-t.end) > mostGap*rate:
		return fmt.Errorf("chunk %d begins two days after the last: the phone's clock is wrong", c.Seq)
	case t.bytes > mostBytes:
		return errors.New("the recording has become too long: finish it and begin another")
	}
	return nil
}

func (t *Take) ackNow() Ack {
	out := t.ack
	out.Gaps = append([]Gap(nil), t.ack.Gaps...)
	return out
}

// Ack is how far the take has come.
func (t *Take) Ack() Ack {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.ackNow()
}

// Seconds is the length on the clock, gaps included; for motion, 0.
func (t *Take) Seconds() float64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.Sensor != Sound {
		return 0
	}
	return float64(t.end) / t.RateHz
}

// Sync brings everything acknowledged so far to the disk.
func (t *Take) Sync() error {
	t.syncMu.Lock()
	defer t.syncMu.Unlock()
	t.mu.Lock()
	next, done, clean := t.ack.Next, t.done, t.ack.Safe == t.ack.Next
	t.mu.Unlock()
	if done || clean {
		return nil
	}
	if err := t.file.Sync(); err != nil {
		return err
	}
	t.mu.Lock()
	t.ack.Safe = max(t.ack.Safe, next)
	t.mu.Unlock()
	return nil
}

// Finish closes the take for chunks; reading goes on.
func (t *Take) Finish() error {
	err := t.Sync()
	t.mu.Lock()
	t.done = true
	t.mu.Unlock()
	return err
}

// Each hands out the chunks in order.
func (t *Take) Each(saw func(Chunk) error) error {
	file, err := os.Open(filepath.Join(t.dir, "chunks"))
	if err != nil {
		return err
	}
	defer file.Close()
	t.mu.Lock()
	limit := t.bytes
	t.mu.Unlock()
	r := bufio.NewReaderSize(io.LimitReader(file, limit), 1<<16)
	for {
		c, err := readChunk(r)
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return fmt.Errorf("take %s: %w", t.ID, err)
		}
		if err := saw(c); err != nil {
			return err
		}
	}
}
