package main

import (
	"errors"
	"fmt"
	"io"
	"math"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/reader/wav"
)

// soundOptions say how to read and judge a sound recording.
type soundOptions struct {
	Rate    float64    `placeholder:"HZ" help:"True sample rate, where the file's header lies."`
	Speed   engine.RPM `placeholder:"RPM" help:"Engine speed if known; never needed."`
	Channel int        `placeholder:"N" help:"Use this channel only, from 1; the mean of all when left out."`
}

// heard is what a sound file held.
type heard struct {
	RateHz   float64         `json:"rate_hz"`
	Channels int             `json:"channels"`
	Seconds  float64         `json:"seconds"`
	Finding  finding.Finding `json:"finding"`
}

// hear reads a WAV stream and listens to it without loading it whole.
func (o soundOptions) hear(src io.Reader, layout engine.Layout) (heard, error) {
	reader, err := wav.NewReader(src)
	if err != nil {
		return heard{}, recordingError{err}
	}
	format := reader.Format()
	rate, err := o.rate(float64(format.Rate))
	if err != nil {
		return heard{}, err
	}
	mix, err := newMono(reader, format.Channels, o.Channel)
	if err != nil {
		return heard{}, err
	}
	f, err := order.Analyse(mix, rate, order.Config{Layout: layout, Speed: o.Speed})
	if err != nil {
		return heard{}, recordingError{err}
	}
	f.Notes = append(f.Notes, reader.Damage().Notes()...)
	return heard{rate, format.Channels, float64(mix.frames) / rate, f}, nil
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

// mono takes one channel, or the mean of all, out of interleaved samples.
type mono struct {
	src      order.Source
	channels int
	only     int // from 0, −1 for the mean
	buf      []float32
	frames   int64
}

func newMono(src order.Source, channels, only int) (*mono, error) {
	if only < 0 || only > channels {
		return nil, badInput(fmt.Errorf("--channel %d: the recording has channels 1 to %d", only, channels))
	}
	return &mono{src: src, channels: channels, only: only - 1}, nil
}

// Read fills dst with mono samples.
func (m *mono) Read(dst []float32) (int, error) {
	if need := len(dst) * m.channels; cap(m.buf) < need {
		m.buf = make([]float32, need)
	}
	n, err := m.src.Read(m.buf[:len(dst)*m.channels])
	frames := n / m.channels
	for i := range frames {
		dst[i] = m.pick(m.buf[i*m.channels : (i+1)*m.channels])
	}
	m.frames += int64(frames)
	if err != nil && !errors.Is(err, io.EOF) {
		return frames, recordingError{err}
	}
	return frames, err
}

func (m *mono) pick(frame []float32) float32 {
	if m.only >= 0 {
		return frame[m.only]
	}
	var sum float32
	for _, x := range frame {
		sum += x
	}
	return sum / float32(len(frame))
}
