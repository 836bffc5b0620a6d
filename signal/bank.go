package signal

import (
	"fmt"
	"math"
	"slices"
)

// FrameRateMin is the least frame rate a Bank gives, in hertz, when the sample
// rate allows: enough for the firing frequency of eight cylinders at 6500 rpm.
const FrameRateMin = 1000

// Limits of the sample rate a Bank accepts, in hertz.
const (
	SampleRateMin = 20
	SampleRateMax = 1e6
)

// minSquares is the least number of squared samples that make one loudness
// value; octaves just above the low band give fewer and are left out.
const minSquares = 2

// Band says what one row of Frames is.
type Band struct {
	LowHz, HighHz float64
	Envelope      bool // root mean square loudness; otherwise the signal itself
}

// String names the band for a person, "2000–4000 Hz loudness".
func (b Band) String() string {
	if !b.Envelope {
		return fmt.Sprintf("below %.0f Hz", b.HighHz)
	}
	return fmt.Sprintf("loudness %.0f–%.0f Hz", b.LowHz, b.HighHz)
}

// Frames are equally long rows, one per band, at Rate frames per second.
type Frames struct {
	Rate  float64
	Bands []Band
	Rows  [][]float32
	First int64 // number of the first frame since the start of the stream
}

// Len is the number of frames.
func (f Frames) Len() int {
	if len(f.Rows) == 0 {
		return 0
	}
	return len(f.Rows[0])
}

// Bank is a tree of half-band splits, each halving the rate: the low half goes
// on, the high half is squared and averaged over one frame. Row 0 is the low
// band, rows from 1 the octaves from the highest down.
type Bank struct {
	rate   float64
	levels []level
	low    []float32
	bands  []Band
	first  int64
	taken  int64 // samples, those lost in gaps too
}

type level struct {
	split  halfBand
	keep   bool // its high half is reported
	per    int  // high samples per frame
	count  int
	sum    float32
	out    []float32
	buffer []float32 // its low half, input of the next level
}

// NewBank prepares a bank for a sample rate in hertz. The error says which
// rates are possible.
func NewBank(rate float64) (*Bank, error) {
	if !(rate >= SampleRateMin && rate <= SampleRateMax) {
		return nil, fmt.Errorf("sample rate %g Hz is out of reach: expected %d to %g Hz", rate, SampleRateMin, float64(SampleRateMax))
	}
	n := 0
	for rate/float64(int(2)<<n) >= FrameRateMin {
		n++
	}
	b := &Bank{rate: rate, levels: make([]level, n)}
	b.bands = append(b.bands, Band{0, b.FrameRate() / 2, false})
	for i := range b.levels {
		l := &b.levels[i]
		l.split = newHalfBand()
		l.per = 1 << (n - 1 - i)
		l.keep = l.per >= minSquares
		if l.keep {
			top := rate / float64(int(2)<<i)
			b.bands = append(b.bands, Band{top / 2, top, true})
		}
	}
	return b, nil
}

// SampleRate is the rate of the samples in hertz.
func (b *Bank) SampleRate() float64 { return b.rate }

// FrameRate is the rate of the frames in hertz.
func (b *Bank) FrameRate() float64 { return b.rate / float64(int(1)<<len(b.levels)) }

// Bands lists the rows.
func (b *Bank) Bands() []Band { return b.bands }

// DelaySeconds bounds how long a sample may wait inside before it shows.
func (b *Bank) DelaySeconds() float64 { return float64(2*halfBandReach+1) / b.FrameRate() }

// block is how many samples go through all levels before the next: few enough to
// stay in the processor's nearest memory.
const block = 4096

// Write takes samples; it keeps nothing of x.
func (b *Bank) Write(x []float32) {
	b.taken += int64(len(x))
	for len(x) > 0 {
		part := x[:min(block, len(x))]
		x = x[len(part):]
		for i := range b.levels {
			l := &b.levels[i]
			l.run(part)
			part = l.buffer
		}
		b.low = append(roomy(b.low, len(part)), part...)
	}
}

// roomy makes room for n more values, and as many as there are: append would
// move a long row more often.
func roomy(x []float32, n int) []float32 {
	if cap(x)-len(x) < n {
		return slices.Grow(x, max(n, len(x)))
	}
	return x
}

// run fills the buffer with the low half of x and squares the high half, frame
// by frame.
func (l *level) run(x []float32) {
	pairs := l.split.add(x)
	if l.keep {
		l.out = roomy(l.out, pairs/l.per+1)
	}
	low := slices.Grow(l.buffer[:0], pairs)[:pairs]
	for at := 0; at < pairs; {
		n := pairs - at
		if l.keep {
			n = min(n, l.per-l.count)
		}
		l.sum = l.split.split(low[at:at+n], at, l.sum)
		at += n
		if l.count += n; l.keep && l.count == l.per {
			l.out = append(l.out, float32(math.Sqrt(float64(l.sum/float32(l.per)))))
			l.sum, l.count = 0, 0
		}
	}
	l.split.used(pairs)
	l.buffer = low
}

// Gap forgets everything and goes on behind so many lost samples, as if there
// had been silence before: the numbers of the frames stay true to time.
func (b *Bank) Gap(samples int64) {
	b.taken += samples
	b.first = (b.taken + int64(1)<<len(b.levels)/2) >> len(b.levels)
	b.low = b.low[:0]
	for i := range b.levels {
		l := &b.levels[i]
		l.split = newHalfBand()
		l.out, l.sum, l.count = l.out[:0], 0, 0
	}
}

// Frames gives what is ready. The rows are views: valid until the next Write
// or Discard.
func (b *Bank) Frames() Frames {
	n := len(b.low)
	for i := range b.levels {
		if b.levels[i].keep {
			n = min(n, len(b.levels[i].out))
		}
	}
	f := Frames{Rate: b.FrameRate(), Bands: b.bands, First: b.first}
	f.Rows = append(f.Rows, b.low[:n])
	for i := range b.levels {
		if b.levels[i].keep {
			f.Rows = append(f.Rows, b.levels[i].out[:n])
		}
	}
	return f
}

// Discard forgets the first n frames.
func (b *Bank) Discard(n int) {
	b.low = b.low[:copy(b.low, b.low[n:])]
	for i := range b.levels {
		if l := &b.levels[i]; l.keep {
			l.out = l.out[:copy(l.out, l.out[n:])]
		}
	}
	b.first += int64(n)
}
