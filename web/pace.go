package web

import (
	"math"

	"halforder/engine"
	"halforder/signal"
)

// pace follows the speed of an engine through cuts, from sound, where the usual
// analysis cannot: it compares the last two cycles with those one cycle
// earlier. The same cylinders stand against each other, so it does not matter
// how uneven they are; a firing more or less is a sixth of a cycle or so away,
// farther than a flywheel lets the speed jump.
type pace struct {
	n      int // cylinders
	bank   *signal.Bank
	idleHz float64 // cycles a second to begin with, the middle of the places
	span   int     // frames compared
	next   int64   // frame up to which the next look reaches
	score  []float64
	from   [][]int16 // of the last lag looks, newest last
	fit    []float64 // of the last look, by place
	quiet  int       // looks in a row without an engine
}

// beat is what pace found at a moment.
type beat struct {
	at    float64 // s since the first sample
	rpm   float64 // 0: the engine stands
	rough float64 // how much less alike neighbouring firings are than cycles; 0: not known
}

const (
	paceStep    = 0.1   // s from look to look
	paceGrid    = 0.005 // of the speed, between places
	paceReach   = 0.65  // slowest place, of idle; the fastest as far the other way
	paceCycles  = 2.2   // compared with those before
	paceLag     = 2     // looks that a decision waits
	paceChange  = 0.025 // of the speed from look to look, one standard deviation
	paceIdle    = 0.25  // how far from idle it usually is
	paceWeight  = 14.0  // of a perfect fit, natural logarithms
	paceStrange = 0.15  // fit below which nothing like an engine is heard
	paceStands  = 15    // such looks until it stands
)

// newPace begins at a known idle speed.
func newPace(layout engine.Layout, rate float64, idle engine.RPM) (*pace, error) {
	bank, err := signal.NewBank(rate)
	if err != nil {
		return nil, err
	}
	places := 2*int(-math.Log(paceReach)/paceGrid) + 1
	p := &pace{n: layout.N(), bank: bank, idleHz: idle.CycleHz(), score: make([]float64, places), fit: make([]float64, places)}
	p.span = int(paceCycles / p.idleHz * bank.FrameRate())
	p.next = int64(p.span + p.period(0) + 1)
	p.begin()
	return p, nil
}

// begin looks near the idle speed first.
func (p *pace) begin() {
	for k := range p.score {
		z := float64(k-len(p.score)/2) * paceGrid / 0.05
		p.score[k] = -z * z / 2
	}
	p.from = nil
}

// hz is the cycle rate of a place.
func (p *pace) hz(k int) float64 {
	return p.idleHz * math.Exp(paceGrid*float64(k-len(p.score)/2))
}

// period of a cycle at a place, in frames.
func (p *pace) period(k int) int {
	return int(math.Round(p.bank.FrameRate() / p.hz(k)))
}

// write takes samples and gives what each finished look found.
func (p *pace) write(x []float32) (out []beat) {
	p.bank.Write(x)
	frames := p.bank.Frames()
	for p.next <= frames.First+int64(frames.Len()) {
		out = append(out, p.look(frames, int(p.next-frames.First)))
		p.next += int64(paceStep * frames.Rate)
	}
	if spare := int(p.next-frames.First) - p.span - p.period(0) - 1; spare > p.span {
		p.bank.Discard(spare)
	}
	return out
}

// look compares the frames up to end with those a cycle earlier, for every
// place, and follows the best path.
func (p *pace) look(frames signal.Frames, end int) beat {
	here := beat{at: (float64(frames.First)+float64(end-p.span/2))/frames.Rate - 0.5/p.idleHz - paceLag*paceStep}
	for k := range p.fit {
		p.fit[k] = p.alike(frames, end, p.period(k))
	}
	from := make([]int16, len(p.score))
	score := make([]float64, len(p.score))
	for k := range score {
		best, at := math.Inf(-1), k
		for j := max(0, k-pacePlaces); j <= min(len(score)-1, k+pacePlaces); j++ {
			z := float64(k-j) * paceGrid / paceChange
			if v := p.score[j] - z*z/2; v > best {
				best, at = v, j
			}
		}
		score[k], from[k] = best+paceWeight*p.fit[k]-p.pull(k), int16(at)
	}
	p.score = score
	if p.from = append(p.from, from); len(p.from) > paceLag {
		p.from = p.from[1:]
	}
	return p.decide(here, frames, end)
}

// pull is towards idle, where the control brings the engine back to: of two
// paths that fit alike, a firing apart, that one is right.
func (p *pace) pull(k int) float64 {
	z := paceGrid * float64(k-len(p.score)/2) / paceIdle
	return z * z / 2
}

// pacePlaces is how far the path is looked for from look to look.
const pacePlaces = int(3 * paceChange / paceGrid)

func (p *pace) decide(here beat, frames signal.Frames, end int) beat {
	now, top := 0, math.Inf(-1)
	for k, v := range p.score {
		if v > top {
			now, top = k, v
		}
	}
	for k := range p.score {
		p.score[k] -= top
	}
	if p.silent(p.fit[now]) {
		return here
	}
	if p.fit[now] > paceStrange {
		between := p.alike(frames, end, int(math.Round(float64(p.period(now))/float64(p.n))))
		here.rough = max(1-between/p.fit[now], 1e-3)
	}
	k := now
	for i := len(p.from) - 1; i >= 0; i-- {
		k = int(p.from[i][k])
	}
	here.rpm = float64(engine.FromCycleHz(p.hz(k)))
	return here
}

// silent reports that nothing like an engine has been heard for a while: no
// cycle is like the one before.
func (p *pace) silent(fit float64) bool {
	if fit > paceStrange {
		p.quiet = 0
		return false
	}
	if p.quiet++; p.quiet < paceStands {
		return false
	}
	p.begin() // when it runs again, it idles again
	return true
}

// alike is how well the frames before end match those a period earlier: the
// mean over bands of their correlation, from −1 to 1.
func (p *pace) alike(frames signal.Frames, end, period int) float64 {
	var total float64
	for _, row := range frames.Rows {
		a, b := row[end-p.span:end], row[end-p.span-period:end-period]
		var sa, sb, saa, sbb, sab float64
		for i, v := range a {
			x, y := float64(v), float64(b[i])
			sa, sb, saa, sbb, sab = sa+x, sb+y, saa+x*x, sbb+y*y, sab+x*y
		}
		n := float64(len(a))
		total += (sab - sa*sb/n) / math.Sqrt(max((saa-sa*sa/n)*(sbb-sb*sb/n), 1e-30))
	}
	return total / float64(len(frames.Rows))
}
