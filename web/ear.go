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

// The live view judges the last seconds: what counts is how the engine runs now.
// The judgement that goes on the card hears everything.
const (
	liveRate      = 12000.0 // Hz, enough for the bands that matter live
	ringSeconds   = 6.0     // kept
	shortestHeard = 0.6     // s, below nothing can be said
)

// ear is one stream of sound being heard live.
type ear struct {
	*hearing
	take   string
	layout engine.Layout
	lower  *lower

	mu      sync.Mutex
	ring    []float32 // the last ringSeconds at the lower rate
	fresh   int       // at the end of the ring, not yet judged
	broken  bool      // a gap before the ring
	total   int       // at the lower rate since the start or the last gap
	samples uint64    // of the stream, up to which the ring reaches
	rate    float64   // of the stream, Hz

	rolling rolling // for judge alone
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
	e := &ear{take: takeID, layout: layout, lower: newLower(rate, liveRate), rate: rate}
	e.rolling = rolling{layout: layout, rate: e.lower.out}
	e.hearing = newHearing(room, "meter", e.judge)
	return e
}

// hear takes samples; end is the index after the last of them.
func (e *ear) hear(x []float32, end uint64, gap bool) {
	e.mu.Lock()
	if gap {
		e.ring, e.fresh, e.broken = e.ring[:0], 0, true
		e.total += ringSeconds * int(e.lower.out) // nobody takes what follows for whole
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
	before := len(e.ring)
	e.ring = e.lower.add(e.ring, x)
	e.fresh += len(e.ring) - before
	e.total += len(e.ring) - before
	if over := len(e.ring) - int(ringSeconds*e.lower.out); over > 0 {
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
	if e.fresh > len(e.ring) || e.broken { // nobody looked for a while, or a gap
		e.rolling.forget()
		e.fresh, e.broken = len(e.ring), false
	}
	x := slices.Clone(e.ring[len(e.ring)-e.fresh:])
	e.fresh = 0
	m := meter{Take: e.take, Samples: e.samples}
	e.mu.Unlock()
	if err := e.rolling.write(x); err != nil {
		m.Sentence = err.Error()
		return m, true
	}
	if m.Over = e.rolling.seconds(); m.Over < shortestHeard {
		return m, false
	}
	found, err := e.rolling.snapshot()
	if err != nil {
		m.Sentence = err.Error()
		return m, true
	}
	m.fill(found)
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
