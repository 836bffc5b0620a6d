package web

import (
	"math"
	"slices"
	"strings"
	"sync"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
)

// The live view hears the last seconds again and again: what counts is how the
// engine runs now. The judgement that goes on the card hears everything.
const (
	liveRate      = 12000.0 // Hz, enough for the bands that matter live
	rowSeconds    = 6.0     // for roughness and the unrolled cycle
	shortestHeard = 0.6     // s, below nothing can be said
)

// ear is one stream of sound being heard live.
type ear struct {
	*hearing
	take   string
	layout engine.Layout
	lower  *lower

	mu      sync.Mutex
	ring    []float32 // the last rowSeconds at the lower rate
	samples uint64    // of the stream, up to which the ring reaches
	peak    float64
	sum     float64
	count   int
	clipped int
}

// level is the quick message of every chunk.
type level struct {
	Take    string  `json:"take"`
	Samples uint64  `json:"samples"`
	Seconds float64 `json:"seconds"`
	DB      float64 `json:"db"` // against full scale
	Clipped bool    `json:"clipped,omitempty"`
	Gaps    int     `json:"gaps,omitempty"`
	Next    uint32  `json:"next"`
}

// meter is what the tablet shows of an engine running now.
type meter struct {
	Take     string            `json:"take"`
	Samples  uint64            `json:"samples"` // heard up to here
	RPM      float64           `json:"rpm,omitempty"`
	Missing  *finding.Quantity `json:"missing,omitempty"`
	Chance   *float64          `json:"chance,omitempty"`
	Verdict  finding.Verdict   `json:"verdict,omitempty"`
	Sentence string            `json:"sentence"`
	Cycle    []float32         `json:"cycle,omitempty"`    // one cycle unrolled, first firing first
	Strength []float64         `json:"strength,omitempty"` // by firing position
	Over     float64           `json:"over_s"`             // seconds it was judged over
}

func newEar(room *room, takeID string, layout engine.Layout, rate float64) *ear {
	e := &ear{take: takeID, layout: layout, lower: newLower(rate, liveRate)}
	e.hearing = newHearing(room, "meter", e.judge)
	return e
}

// hear takes samples; end is the index after the last of them.
func (e *ear) hear(x []float32, end uint64, gap bool) {
	e.mu.Lock()
	if gap {
		e.ring = e.ring[:0]
	}
	for _, v := range x {
		a := math.Abs(float64(v))
		e.peak = max(e.peak, a)
		e.sum += a * a
		if a > 0.985 {
			e.clipped++
		}
	}
	e.count += len(x)
	e.ring = e.lower.add(e.ring, x)
	if over := len(e.ring) - int(rowSeconds*e.lower.out); over > 0 {
		e.ring = e.ring[:copy(e.ring, e.ring[over:])]
	}
	e.samples = end
	e.mu.Unlock()
	e.nudge()
}

// loud gives the level since the last call, in dB against full scale.
func (e *ear) loud() (db float64, clipped bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	rms := math.Sqrt(e.sum / max(float64(e.count), 1))
	clipped = e.clipped > e.count/500
	e.sum, e.count, e.clipped, e.peak = 0, 0, 0, 0
	return max(20*math.Log10(max(rms, 1e-6)), -120), clipped
}

func (e *ear) judge() (meter, bool) {
	e.mu.Lock()
	x := slices.Clone(e.ring)
	m := meter{Take: e.take, Samples: e.samples}
	e.mu.Unlock()
	rate := e.lower.out
	m.Over = float64(len(x)) / rate
	if m.Over < shortestHeard {
		return m, false
	}
	whole, err := hearAll(x, rate, e.layout)
	if err != nil {
		m.Sentence = err.Error()
		return m, true
	}
	m.fill(whole)
	return m, true
}

func hearAll(x []float32, rate float64, layout engine.Layout) (f finding.Finding, err error) {
	l, err := order.NewListener(order.Config{Layout: layout}, rate)
	if err != nil {
		return f, err
	}
	l.Write(x)
	return l.Finish()
}

func (m *meter) fill(f finding.Finding) {
	m.Verdict, m.Sentence = f.Verdict, f.Sentence
	if q, ok := f.Quantity(order.SpeedQuantity); ok {
		m.RPM = q.Value
	}
	if q, ok := f.Quantity(order.MissingQuantity); ok {
		m.Missing = &q
	}
	if q, ok := f.Quantity(order.ChanceQuantity); ok {
		m.Chance = &q.Value
	}
	for _, s := range f.Series {
		switch {
		case s.YUnit == "rpm" && s.Shape == finding.Line && len(s.Y) > 0:
			m.RPM = s.Y[len(s.Y)-1] // now, not the mean
		case s.XUnit == "°" && m.Cycle == nil:
			for _, y := range s.Y {
				m.Cycle = append(m.Cycle, float32(y))
			}
		case s.Shape == finding.Bars && strings.Contains(s.XName, "firing order") && m.Strength == nil:
			m.Strength = s.Y
		}
	}
}
