package order

import (
	"fmt"
	"math"

	"halforder/engine"
	"halforder/finding"
)

// Name of this analysis in findings.
const Name = "order/1"

// Names of the quantities in a finding of this package.
const (
	SpeedQuantity   = "speed"               // rpm, mean over the recording
	MissingQuantity = "missing work"        // cylinders' worth
	ChanceQuantity  = "chance of a misfire" // at even chances before listening
)

const (
	minCycles      = 6    // fewer say nothing about the firings
	silentRMS      = 1e-5 // about a third of a step of 16 bit PCM
	clippedLimit   = 0.20
	misfireOdds    = 2.3  // ln 10
	noMisfireOdds  = -0.7 // a chance of 33 %
	stretchCycles  = 128  // cycles judged together
	quantityChance = 0.90
)

// Analyse listens to a whole mono source at a rate in hertz and returns the
// finding. Errors: *TooShortError, *SilentError, *ClippedError,
// *NoEngineError, or what the source reports.
func Analyse(src Source, rate float64, config Config) (finding.Finding, error) {
	l, err := NewListener(config, rate)
	if err != nil {
		return finding.Finding{}, err
	}
	if err := l.readAll(src); err != nil {
		return finding.Finding{}, err
	}
	return l.Finish()
}

// Finish ends the stream and returns the finding over all that was heard. The
// Listener must not be used afterwards. Errors as for Analyse.
func (l *Listener) Finish() (finding.Finding, error) {
	if err := l.heard.level.check(); err != nil {
		return finding.Finding{}, err
	}
	l.advance(true)
	return l.heard.report()
}

func (v *level) check() error {
	switch {
	case v.samples == 0 || v.seconds() < shortestSeconds:
		return &TooShortError{v.seconds(), 1}
	case v.rms() < silentRMS:
		return &SilentError{v.rms()}
	case v.clipped() > clippedLimit:
		return &ClippedError{v.clipped()}
	}
	return nil
}

func (h *heard) report() (finding.Finding, error) {
	if len(h.cycles) == 0 {
		return finding.Finding{}, &TooShortError{h.level.seconds(), 1}
	}
	if err := h.checkEngine(); err != nil {
		return finding.Finding{}, err
	}
	f := finding.Finding{Analysis: Name}
	h.addSpeed(&f)
	if len(h.cycles) < minCycles {
		f.Verdict = finding.CannotTell
		f.Sentence = fmt.Sprintf("Only %d engine cycles: too few to compare the firings; record 20 s.", len(h.cycles))
		f.Likelihood = flat()
		return f, nil
	}
	h.addVerdict(&f)
	return f, nil
}

func (h *heard) score() float64 {
	var sum float64
	for _, c := range h.cycles {
		sum += c.score
	}
	return sum / float64(len(h.cycles))
}

// White and pink noise reach a mean score of 2.7 and a coherence of some 24,
// speech more score but changes its pitch: see the tests.
const (
	engineScore     = 3.0
	engineCoherence = 25.0
	shortScore      = 4.0 // with too few cycles to ask for coherence
	coherentCycles  = 20
)

// checkEngine tells an engine from noise and speech.
func (h *heard) checkEngine() error {
	if score := h.score(); len(h.cycles) < coherentCycles {
		if score < shortScore {
			return &NoEngineError{score, shortScore}
		}
		return nil
	} else if score < engineScore || h.coherence() < engineCoherence {
		return &NoEngineError{score, engineScore}
	}
	return nil
}

// coherence is the power of the folded firing orders over the variance of
// their mean, in the band where it is largest: 1 for chance.
func (h *heard) coherence() float64 {
	var best float64
	n := h.layout.N()
	for b := range h.bands {
		p := fold(h.cycles[:min(len(h.cycles), stretchCycles)], b, h.harmonics)
		var sum float64
		for m := 1; m <= 3; m++ {
			sum += sq(p.mean[m*n-1]) / max(p.noise[m*n-1], 1e-30) / 3
		}
		best = max(best, sum)
	}
	return best
}

func flat() *finding.Likelihood {
	return &finding.Likelihood{Anonymous: true, Log: map[finding.Pattern]float64{}}
}

func (h *heard) addSpeed(f *finding.Finding) {
	n := float64(len(h.cycles))
	var sum, squares float64
	for _, c := range h.cycles {
		sum += c.hz
	}
	speed := float64(engine.FromCycleHz(sum / n))
	for _, c := range h.cycles {
		d := float64(engine.FromCycleHz(c.hz)) - speed
		squares += d * d
	}
	err := 1.645*math.Sqrt(squares)/n + 0.003*speed
	f.Quantities = append(f.Quantities, finding.Quantity{Name: SpeedQuantity, Unit: "rpm", Value: speed,
		Low: speed - err, High: speed + err, Confidence: quantityChance})
}

// addVerdict judges stretch by stretch. What spoils one stretch mostly spoils
// all, so their weights are averaged, not added.
func (h *heard) addVerdict(f *finding.Finding) {
	n := h.layout.N()
	if n == 1 {
		f.Verdict = finding.CannotTell
		f.Sentence = "A single cylinder has no other to be compared with: cannot tell whether it misses."
		f.Likelihood = flat()
		return
	}
	var judgements []judgement
	parts := (len(h.cycles) + stretchCycles - 1) / stretchCycles
	for i := range parts {
		part := h.cycles[i*len(h.cycles)/parts : (i+1)*len(h.cycles)/parts]
		judgements = append(judgements, h.judge(part))
	}
	j := average(judgements)
	chance := 1 / (1 + math.Exp(-j.odds))
	f.Quantities = append(f.Quantities,
		finding.Quantity{Name: MissingQuantity, Unit: "cylinders", Value: j.missing.value, Low: j.missing.low, High: j.missing.high, Confidence: quantityChance},
		finding.Quantity{Name: ChanceQuantity, Value: chance, Low: chance, High: chance, Confidence: quantityChance})
	f.Likelihood = j.likelihood()
	speed, _ := f.Quantity(SpeedQuantity)
	switch {
	case j.odds >= misfireOdds:
		f.Verdict = finding.Misfire
		f.Sentence = fmt.Sprintf("At %.0f rpm about %.1f cylinders' worth of work is missing: it misfires.", speed.Value, j.missing.value)
	case j.odds <= noMisfireOdds:
		f.Verdict = finding.NoMisfire
		f.Sentence = fmt.Sprintf("At %.0f rpm all %d firings sound alike: no misfire heard.", speed.Value, n)
	default:
		f.Verdict = finding.CannotTell
		f.Sentence = fmt.Sprintf("At %.0f rpm the firings differ, but not in a way that shows a missing one: cannot tell.", speed.Value)
	}
}

func (h *heard) judge(cycles []cycle) judgement {
	bands, n := len(h.bands), h.layout.N()
	ratio := fold(cycles, 0, h.harmonics).neighbourRatio(uppersOf(cycles, bands, h.harmonics, n), h.layout)
	return judge(weigh(cycles, bands, h.harmonics, h.layout), ratio, n)
}

func average(parts []judgement) judgement {
	j := parts[0]
	if len(parts) == 1 {
		return j
	}
	log := map[finding.Pattern]float64{}
	j.odds, j.missing = 0, interval{}
	n := float64(len(parts))
	for _, p := range parts {
		for k, v := range p.log {
			log[k] += v / n
		}
		j.odds += p.odds / n
		j.missing.value += p.missing.value / n
		j.missing.low += p.missing.low / n
		j.missing.high += p.missing.high / n
	}
	j.log = log
	return j
}

// likelihood of all patterns, anonymous. Patterns not weighed (three and more
// lazy cylinders) count like the average pair, less a unit.
func (j judgement) likelihood() *finding.Likelihood {
	var pairs []float64
	for _, p := range j.patterns {
		if count(p) > 1 {
			pairs = append(pairs, j.log[p])
		}
	}
	out := &finding.Likelihood{Anonymous: true, Log: j.log, Else: -1}
	if len(pairs) > 0 {
		out.Else = logMean(pairs) - 1
	}
	return out
}
