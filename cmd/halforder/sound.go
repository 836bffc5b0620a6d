package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
)

// soundOptions say how to read and judge a sound recording.
type soundOptions struct {
	Rate    float64     `placeholder:"HZ" help:"True sample rate, where the file's header lies."`
	Speed   engine.RPM  `placeholder:"RPM" help:"Engine speed if known; never needed."`
	Channel int         `placeholder:"N" help:"Use this channel only, from 1; the mean of all when left out."`
	Cut     []order.Cut `placeholder:"CYL@FROM-TO" help:"A cylinder was cut from one second to another, such as 3@12-17; it names the others."`
	Mark    mark        `placeholder:"CHANNEL:CYL" help:"This channel holds ignition pulses of this cylinder, such as 2:1; it names the others."`
}

// mark is a channel, from 1, and the cylinder whose ignition it shows.
type mark struct {
	channel  int
	cylinder engine.Cylinder
}

// UnmarshalText reads "2:1".
func (m *mark) UnmarshalText(text []byte) error {
	channel, cylinder, ok := strings.Cut(string(text), ":")
	a, err := strconv.Atoi(channel)
	b, err2 := strconv.Atoi(cylinder)
	if !ok || err != nil || err2 != nil || a < 1 || b < 1 {
		return fmt.Errorf("%q is no mark: write channel:cylinder, such as 2:1", text)
	}
	*m = mark{a, engine.Cylinder(b)}
	return nil
}

// heard is what a sound file held.
type heard struct {
	RateHz   float64         `json:"rate_hz"`
	Channels int             `json:"channels"`
	Seconds  float64         `json:"seconds"`
	Finding  finding.Finding `json:"finding"`
}

// hear reads a WAV, FLAC or MP3 stream and listens to it without loading it whole.
// It calls progress, if there is one, with the seconds heard so far.
func (o soundOptions) hear(src io.Reader, layout engine.Layout, progress func(float64)) (heard, error) {
	reader, err := openSoundFile(src)
	if err != nil {
		return heard{}, recordingError{err}
	}
	rate, err := o.rate(reader.Rate())
	if err != nil {
		return heard{}, err
	}
	mix, err := newMono(reader, reader.Channels(), o.Channel, o.Mark.channel)
	if err != nil {
		return heard{}, err
	}
	listener, err := order.NewListener(order.Config{Layout: layout, Speed: o.Speed, Cuts: o.Cut, Marked: o.Mark.cylinder}, rate)
	if err != nil {
		return heard{}, badInput(err)
	}
	if err := mix.feed(listener, rate, progress); err != nil {
		return heard{}, err
	}
	f, err := listener.Finish()
	if err != nil {
		return heard{}, recordingError{err}
	}
	f.Notes = append(f.Notes, reader.Notes()...)
	return heard{rate, reader.Channels(), float64(mix.frames) / rate, f}, nil
}

func (o soundOptions) rate(declared float64) (float64, error) {
	switch {
	case o.Rate == 0:
		return declared, nil
	case !(o.Rate > 0) || math.IsInf(o.Rate, 0):
		return 0, badInput(fmt.Errorf("--rate %g: give samples per second, such as 44100", o.Rate))
	}
	return o.Rate, nil
}

// mono takes one channel, or the mean of all that hold sound, out of
// interleaved samples, and the mark channel beside it.
type mono struct {
	src      order.Source
	channels int
	only     int // from 0, −1 for the mean
	mark     int // from 0, −1 for none
	buf      []float32
	marks    []float32 // of the last Read
	frames   int64
}

func newMono(src order.Source, channels, only, mark int) (*mono, error) {
	if only < 0 || only > channels {
		return nil, badInput(fmt.Errorf("--channel %d: the recording has channels 1 to %d", only, channels))
	}
	if mark > channels || mark > 0 && (mark == only || channels < 2) {
		return nil, badInput(fmt.Errorf("--mark %d:…: the mark needs a channel of its own, the recording has %d", mark, channels))
	}
	return &mono{src: src, channels: channels, only: only - 1, mark: mark - 1}, nil
}

// feed gives all samples to a listener.
func (m *mono) feed(l *order.Listener, rate float64, progress func(float64)) error {
	const piece = 1 << 14
	sound := make([]float32, piece)
	for {
		n, err := m.Read(sound)
		l.Write(sound[:n])
		if m.mark >= 0 {
			l.WriteMark(m.marks[:n])
		}
		if progress != nil {
			progress(float64(m.frames) / rate)
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return recordingError{err}
		}
	}
}

// Read fills dst with sound and, beside it, marks.
func (m *mono) Read(dst []float32) (int, error) {
	if need := len(dst) * m.channels; cap(m.buf) < need {
		m.buf, m.marks = make([]float32, need), make([]float32, len(dst))
	}
	n, err := m.src.Read(m.buf[:len(dst)*m.channels])
	frames := n / m.channels
	for i := range frames {
		frame := m.buf[i*m.channels : (i+1)*m.channels]
		dst[i] = m.pick(frame)
		if m.mark >= 0 {
			m.marks[i] = frame[m.mark]
		}
	}
	m.frames += int64(frames)
	return frames, err
}

func (m *mono) pick(frame []float32) float32 {
	if len(frame) == 1 {
		return frame[0]
	}
	if m.only >= 0 {
		return frame[m.only]
	}
	var sum, count float32
	for i, x := range frame {
		if i != m.mark {
			sum += x
			count++
		}
	}
	return sum / count
}
