package order

import (
	"errors"
	"fmt"
	"io"

	"halforder/engine"
	"halforder/signal"
)

// Config says what is listened to.
type Config struct {
	Layout engine.Layout
	// Speed is a typed or bus speed near the start, 0 when unknown. It is a
	// prior of ±15 %, never required.
	Speed engine.RPM
	// Cuts of known cylinders in the recording; they give the others names.
	Cuts []Cut
	// Marked is the cylinder whose ignition the marks show, 0 for none: give
	// them with WriteMark or AddMarks. They name the others too.
	Marked engine.Cylinder
}

// rewindSeconds of frames are kept to start again when the octave was wrong.
const rewindSeconds = 60

// lagHops is how long a decision on speed waits for what comes after.
const lagHops = 8

// Listener takes sound or vibration as it comes and says at any moment what it
// has heard. Not safe for concurrent use.
type Listener struct {
	config  Config
	tops    *signal.Unclipper
	bank    *signal.Bank
	comb    *comb
	tracker *tracker
	lock    *lock
	window  int
	hop     int

	checked  int         // cycles at the last test of the octave
	restarts int         // because of it
	refuted  engine.RPM  // a speed that it proved to be too high, or 0
	scores   [][]float64 // of pending hops
	nextHop  int64       // frame at which the next window starts
	begun    int64       // frame at which it began to track
	speeds   []speedAt   // decided
	cycleAt  float64     // frame at which the next cycle starts; <0 before the first
	heard    heard
	marks    markFinder
	short    bool // the recording is shorter than a window
	frozen   bool // a clone must not take frames from the bank
}

// speedAt is a decided cycle rate at a frame.
type speedAt struct {
	frame float64
	hz    float64
	score float64
}

// NewListener prepares for samples at a rate in hertz. The error says what is
// wrong with the layout or the rate.
func NewListener(config Config, rate float64) (*Listener, error) {
	if err := config.Check(); err != nil {
		return nil, err
	}
	bank, err := signal.NewBank(rate)
	if err != nil {
		return nil, fmt.Errorf("%w; correct the rate with --rate", err)
	}
	l := &Listener{config: config, tops: signal.NewUnclipper(rate), bank: bank, cycleAt: -1}
	l.hop = int(bank.FrameRate() * hopSeconds)
	if len(config.Cuts) > 0 {
		l.hop /= 2 // the speed falls within two turns of a cut
	}
	l.heard = newHeard(config.Layout, bank.Bands(), harmonicsFor(config.Layout), rate)
	l.heard.cuts, l.heard.marked, l.heard.typed = config.Cuts, config.Marked, config.Speed > 0
	for _, c := range config.Cuts {
		l.heard.reels = append(l.heard.reels, reel{Cut: c})
	}
	l.marks.rate = rate
	l.start(config.Speed, int(bank.FrameRate()*windowSeconds))
	return l, nil
}

// Check says what is wrong with the layout or what is told of it.
func (config Config) Check() error {
	if !config.Layout.Valid() {
		return errors.New("no engine given: say which, for example i4 or 1-5-3-6-2-4")
	}
	for _, c := range config.Cuts {
		if err := config.Layout.Check(c.Cylinder); err != nil {
			return fmt.Errorf("cut: %w", err)
		}
	}
	if config.Marked != 0 {
		if err := config.Layout.Check(config.Marked); err != nil {
			return fmt.Errorf("mark: %w", err)
		}
	}
	return nil
}

// start begins to track from the oldest frame kept.
func (l *Listener) start(hint engine.RPM, window int) {
	pad := 1
	if l.short {
		pad = 2 // one window must do: look between the bins
	}
	l.comb = newComb(l.config.Layout, l.bank.FrameRate(), hint, window, pad)
	l.comb.refute(l.refuted)
	l.window = window
	l.tracker = newTracker(len(l.comb.hz))
	l.lock = newLock(len(l.bank.Bands()), l.heard.harmonics)
	l.scores, l.speeds = nil, nil
	l.begun = l.bank.Frames().First
	l.nextHop, l.cycleAt, l.checked = l.begun, -1, 0
	l.heard.forget()
}

// harmonicsFor is how many harmonics of the cycle are kept.
func harmonicsFor(layout engine.Layout) int { return max(6*layout.N(), 12) }

// Write takes mono samples in pieces of any size.
func (l *Listener) Write(x []float32) {
	l.bank.Write(l.tops.Write(x, l.heard.level.add(x)))
	l.advance(false)
}

// WriteMark takes samples of a channel with ignition pulses of the marked
// cylinder, at the same rate and from the same moment as Write.
func (l *Listener) WriteMark(x []float32) { l.marks.write(x) }

// AddMarks takes times of ignitions of the marked cylinder, in seconds since
// the first sample, ascending.
func (l *Listener) AddMarks(seconds []float64) { l.heard.marks = append(l.heard.marks, seconds...) }

// advance scores new windows, decides old hops and cuts cycles.
func (l *Listener) advance(flush bool) {
	frames := l.bank.Frames()
	for i := range l.heard.reels {
		l.heard.reels[i].take(frames)
	}
	for l.nextHop+int64(l.window) <= frames.First+int64(frames.Len()) {
		l.scoreHop(frames)
	}
	keep := lagHops
	if flush {
		keep = 0
		if len(l.scores) == 0 && l.nextHop == 0 {
			l.shortWindow(frames)
		}
	}
	if len(l.scores) > keep {
		l.decide(len(l.scores) - keep)
		l.cutCycles(frames, flush)
	}
	if part, speed := l.partOfCycle(flush); part > 1 {
		l.restarts++
		l.start(speed/engine.RPM(part), l.window)
		l.advance(flush)
		return
	}
	l.release(frames)
}

// shortWindow scores a recording shorter than one window as a whole.
func (l *Listener) shortWindow(frames signal.Frames) {
	if float64(frames.Len()) < shortestSeconds*frames.Rate {
		return
	}
	l.short = true
	l.start(l.config.Speed, frames.Len())
	l.scoreHop(frames)
	l.tracker.prefer(l.foldBest(frames, l.scores[0]))
}

func (l *Listener) scoreHop(frames signal.Frames) {
	at := int(l.nextHop - frames.First)
	rows := make([][]float32, len(frames.Rows))
	for i, row := range frames.Rows {
		rows[i] = row[at : at+l.window]
	}
	scores := append([]float64(nil), l.comb.score(rows)...)
	l.scores = append(l.scores, scores)
	l.tracker.add(scores)
	l.nextHop += int64(l.hop)
}

// decide fixes the speeds of the first n pending hops.
func (l *Listener) decide(n int) {
	path := l.tracker.path()
	for i := range n {
		k, scores := path[i], l.scores[i]
		first := l.nextHop - int64(len(l.scores)-i)*int64(l.hop)
		l.speeds = append(l.speeds, speedAt{
			frame: float64(first) + float64(l.window)/2,
			hz:    l.comb.hz[k] * (1 + gridStep*peak(scores, k)),
			score: scores[k] - l.comb.prior[k],
		})
	}
	l.tracker.forget(n, path[n-1])
	l.scores = l.scores[:copy(l.scores, l.scores[n:])]
}

// cutCycles takes every cycle that lies before the last decided speed; when
// flushing, to the end of the frames.
func (l *Listener) cutCycles(frames signal.Frames, flush bool) {
	first := float64(frames.First)
	end := l.speeds[len(l.speeds)-1].frame
	if flush {
		end = first + float64(frames.Len()-1)
	}
	l.cycleAt = max(l.cycleAt, first)
	for i := 0; ; {
		for i+1 < len(l.speeds) && l.speeds[i+1].frame <= l.cycleAt {
			i++
		}
		hz := l.speedBetween(i, l.cycleAt)
		length := frames.Rate / (hz * (1 + l.lock.rate))
		if l.cycleAt+length > end {
			l.speeds = l.speeds[:copy(l.speeds, l.speeds[min(i, len(l.speeds)-1):])]
			return
		}
		l.takeCycle(frames, cycle{start: l.cycleAt, hz: hz, score: l.speeds[i].score}, length)
	}
}

// speedBetween interpolates the cycle rate after decided speed i.
func (l *Listener) speedBetween(i int, frame float64) float64 {
	a := l.speeds[i]
	if i+1 == len(l.speeds) || frame < a.frame {
		return a.hz
	}
	b := l.speeds[i+1]
	return a.hz + (b.hz-a.hz)*(frame-a.frame)/(b.frame-a.frame)
}

// takeCycle cuts one cycle of a length in frames; c.start comes in frames and
// is kept in seconds.
func (l *Listener) takeCycle(frames signal.Frames, c cycle, length float64) {
	start := c.start
	c.start /= frames.Rate
	c.phasors = make([]complex64, l.lock.bands*l.lock.harmonics)
	for b, row := range frames.Rows {
		l.lock.phasorsOf(c.phasors[b*l.lock.harmonics:][:l.lock.harmonics], row, start-float64(frames.First), length)
	}
	l.lock.drop(c.phasors, int(foldTop*frames.Rate/c.hz))
	c.late = l.lock.settle(c.phasors)
	move := l.lock.follow(c.late)
	l.cycleAt = start + length*(1+move)
	c.seconds = length * (1 + move) / frames.Rate
	l.heard.tapeCycle(frames, c, start, l.cycleAt)
	l.heard.add(c)
}

// release forgets frames nobody needs any more.
func (l *Listener) release(frames signal.Frames) {
	if l.frozen {
		return
	}
	need := float64(l.nextHop)
	if len(l.speeds) > 0 {
		need = min(need, l.cycleAt-2)
	} else {
		need = min(need, 0)
	}
	need -= rewindSeconds * frames.Rate
	if n := int(need) - int(frames.First); n > max(l.window, frames.Len()/2) { // the rest is moved
		l.heard.tape.keep()
		l.bank.Discard(n)
	}
}

// Source gives mono or interleaved samples: n whole frames, then io.EOF.
type Source interface {
	Read(dst []float32) (int, error)
}

// readAll feeds a mono source.
func (l *Listener) readAll(src Source) error {
	buffer := make([]float32, 1<<15)
	for {
		n, err := src.Read(buffer)
		l.Write(buffer[:n])
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}
