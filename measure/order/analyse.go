package order

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"halforder/engine"
	"halforder/finding"
)

// Name of this analysis in findings.
const Name = "order/1"

// Names of the quantities in a finding of this package.
const (
	SpeedQuantity   = "speed"                 // rpm, mean over the recording
	MissingQuantity = "missing work"          // cylinders' worth
	ChanceQuantity  = finding.ChanceOfMisfire // at even chances before listening
	MissesQuantity  = "cycles that miss"      // share of the cycles
	RoughQuantity   = "bass roughness"        // orders between the firing orders, 1 for one dead cylinder
)

const (
	minCycles     = 6    // fewer say nothing about the firings
	misfireOdds   = 1.8  // a chance of 86 %
	manyFirings   = 0.15 // more for each cylinder above four: with many firings one is sooner odd
	contradiction = 2.5  // how much the weaker half of the sound counts against an accusation. Judgement
	roughDoubt    = 0.5  // spread of the firings in the bass from which nobody says "no misfire": one dead of four has 0.67. Judgement
	noMisfireOdds = -0.7 // a chance of 33 %
	confidence    = 0.90 // of the intervals
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
	l.flush()
	l.heard.marks = append(l.heard.marks, l.marks.times()...)
	return l.heard.report()
}

// flush takes in what is held back.
func (l *Listener) flush() {
	l.bank.Write(l.tops.Flush())
	l.advance(true)
}

// Snapshot returns the finding over what was heard so far and leaves the
// stream as it is. Errors as for Analyse.
func (l *Listener) Snapshot() (finding.Finding, error) {
	if err := l.heard.level.check(); err != nil {
		return finding.Finding{}, err
	}
	l.heard.refresh()
	now := l.clone()
	now.heard.between = true
	now.advance(true)
	now.heard.marks = append(slices.Clip(now.heard.marks), l.marks.times()...)
	return now.heard.report()
}

func (h *heard) report() (finding.Finding, error) {
	if h.total.cycles == 0 {
		return finding.Finding{}, &TooShortError{h.level.seconds(), 1}
	}
	if err := h.checkEngine(); err != nil {
		return finding.Finding{}, err
	}
	f := finding.Finding{Analysis: Name, Likelihood: &finding.Likelihood{Anonymous: true, Log: map[finding.Pattern]float64{}}}
	parts := h.stretches()
	h.addSpeed(&f)
	h.addVerdict(&f, parts)
	h.addNotes(&f)
	h.addSeries(&f, parts)
	return f, nil
}

func (h *heard) addSpeed(f *finding.Finding) {
	n := float64(h.total.cycles)
	mean := h.total.hz / n
	spread := math.Sqrt(max(h.total.square/n-mean*mean, 0))
	speed := float64(engine.FromCycleHz(mean))
	err := 1.645*float64(engine.FromCycleHz(spread))/math.Sqrt(n) + (speedError+speedUnseen/max(n/mean, 0.1))*speed
	f.Quantities = append(f.Quantities, finding.Quantity{Name: SpeedQuantity, Unit: "rpm", Value: speed,
		Low: speed - err, High: speed + err, Confidence: confidence})
}

// roughFactor bounds the roughness: the unknown path differs that much between
// orders, 1.645 times ratioSpread in the logarithm.
const roughFactor = 1.9

// speedError is the part of the speed's error that more cycles do not lessen:
// under a step of the comb's grid.
const speedError = 0.003

// speedUnseen is by how much, times the seconds heard, the mean may be off for
// speed that moves within the window of the comb. Judgement: idles that wander
// are off by 0.02 in a second.
const speedUnseen = 0.01

func (h *heard) addVerdict(f *finding.Finding, parts []stretch) {
	speed := h.total.speed()
	switch {
	case h.layout.N() == 1:
		f.Verdict = finding.CannotTell
		f.Sentence = "A single cylinder has no other to be compared with: cannot tell whether it misses."
		return
	case len(parts) == 0:
		f.Verdict = finding.CannotTell
		f.Sentence = fmt.Sprintf("Only %d engine cycles at %.0f rpm: too few to compare the firings; record 20 s.", h.total.cycles, speed)
		return
	}
	j := average(parts)
	m := h.allMisses(parts)
	f.Verdict, f.Sentence = j.verdict(speed)
	if f.Verdict == finding.NoMisfire && h.likeSlowPair(speed) {
		f.Verdict = finding.CannotTell
		f.Sentence = fmt.Sprintf("Cannot tell: this is a whole engine at %.0f rpm or one at %.0f rpm with every other firing gone; give the speed.", speed, 2*speed)
		j.temper(0)
	}
	if f.Verdict == finding.NoMisfire && h.tooSlow(speed) {
		f.Verdict = finding.CannotTell
		f.Sentence = fmt.Sprintf("Cannot tell: all %d firings are there at %.0f rpm, but no engine idles so slowly: the file's sample rate is wrong, or some firings are lost; give the rate or the speed.", h.layout.N(), speed)
		j.temper(0)
	}
	if f.Verdict == finding.Misfire && h.likeIdlingThree(speed, j.best()) {
		f.Verdict, m = finding.CannotTell, misses{}
		f.Sentence = fmt.Sprintf("Cannot tell: this is a whole three idling at %.0f rpm or one at %.0f rpm with a firing gone; give the speed.", speed/3, speed)
		j.temper(0)
	}
	shown := j
	if m.sure {
		shown = j.atLeast(missOdds)
	}
	f.Quantities = append(f.Quantities, shown.quantities()...)
	f.Likelihood = shown.likelihood()
	h.addMisses(f, parts, m, j)
	if len(h.cuts) > 0 || h.marked != 0 {
		h.addNames(f, j)
	}
}

func (j judgement) quantities() []finding.Quantity {
	chance := chanceOf(j.odds)
	out := []finding.Quantity{
		{Name: MissingQuantity, Unit: "cylinders", Value: j.missing.value, Low: j.missing.low, High: j.missing.high, Confidence: confidence},
		{Name: ChanceQuantity, Value: chance, Low: chance, High: chance, Confidence: confidence},
	}
	if j.rough > 0 {
		out = append(out, finding.Quantity{Name: RoughQuantity, Value: j.rough, Low: j.rough / roughFactor, High: j.rough * roughFactor, Confidence: confidence})
	}
	return out
}

func (j judgement) verdict(speed engine.RPM) (finding.Verdict, string) {
	switch {
	case j.joined() >= j.accusing():
		return finding.Misfire, fmt.Sprintf("It misfires: at %.0f rpm about %.1f cylinders' worth of work is missing (%.1f to %.1f), %s.",
			speed, j.missing.value, j.missing.low, j.missing.high, j.patternWords())
	case j.odds <= noMisfireOdds && j.rough >= roughDoubt*float64(j.n-1)/math.Sqrt(float64(j.n)):
		return finding.CannotTell, fmt.Sprintf("Cannot tell: at %.0f rpm all firings are about as loud, but the bass is as uneven as with a dead cylinder; record again from another place.", speed)
	case j.odds <= noMisfireOdds:
		return finding.NoMisfire, fmt.Sprintf("No misfire heard: at %.0f rpm all %d firings are there.", speed, j.n)
	}
	return finding.CannotTell, fmt.Sprintf("Cannot tell: at %.0f rpm the firings differ, but a microphone near one cylinder or a noise would do the same.", speed)
}

// accusing is the odds from which somebody is accused: more with many firings,
// and more where one half of the sound says that all is well. An echo can
// unsettle the bass of a healthy engine, and a microphone near one cylinder the
// upper bands, but not both alike.
func (j judgement) accusing() float64 {
	against := max(0, -min(j.bass, j.upper))
	return misfireOdds + manyFirings*float64(max(0, j.n-4)) + contradiction*against
}

// joined is the odds by which somebody is accused. A microphone nearer to one
// cylinder and a burn that is weaker by nature make the same firing fainter in
// both halves of the sound, so that they agree on which one proves no more than
// each says alone.
func (j judgement) joined() float64 { return min(j.odds, max(j.bass, 0)+max(j.upper, 0)) }

// patternWords says what pattern fits best.
func (j judgement) patternWords() string { return j.wordsOf(j.best()) }

func (j judgement) wordsOf(best finding.Pattern) string {
	if count(best) < 2 {
		return "one firing of the cycle is missing or weak"
	}
	at := func(from int) int {
		for k := from; k < len(best); k++ {
			if finding.State(best[k]) != finding.Works {
				return k
			}
		}
		return -1
	}
	first := at(0)
	apart := at(first+1) - first
	apart = min(apart, j.n-apart)
	if 2*apart == j.n {
		return "two firings one crank turn apart"
	}
	if apart == 1 {
		return "two firings that follow each other"
	}
	return fmt.Sprintf("two firings %d apart in the firing order", apart)
}

// best is the likeliest pattern with something missing, priors counted.
func (j judgement) best() finding.Pattern {
	var best finding.Pattern
	top := math.Inf(-1)
	for _, p := range j.patterns {
		if v := j.log[p] + math.Log(patternPrior(p)); count(p) > 0 && v > top {
			best, top = p, v
		}
	}
	return best
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

// addMisses says how the misses come. Two kinds of cycles, of which one is slower
// and has a quiet firing, accuse whatever the mean of all cycles says. Where there
// are no two kinds, quiet slots are counted.
func (h *heard) addMisses(f *finding.Finding, parts []stretch, m misses, j judgement) {
	low, high := m.interval()
	switch {
	case m.sure && m.always && f.Verdict == finding.Misfire:
		addMissShare(f, misses{share: 1}, alwaysShare, 1)
		f.Notes = append(f.Notes, fmt.Sprintf("besides, another firing is missing in about %.0f %% of the cycles", 100*m.share))
		return
	case m.sure && f.Verdict != finding.Misfire:
		f.Verdict, f.Sentence = finding.Misfire, nowAndThen(h.total.speed(), m.share)
	case !m.sure || tooRare(high, j):
		if m.doubt && f.Verdict == finding.NoMisfire {
			f.Verdict = finding.CannotTell
			f.Sentence = fmt.Sprintf("Cannot tell: at %.0f rpm no firing is missing on average, yet some cycles are slower and have a quiet one; record again, longer and nearer.", h.total.speed())
		}
		h.addQuiet(f, parts, j)
		return
	}
	addMissShare(f, m, low, high)
}

func nowAndThen(speed engine.RPM, share float64) string {
	return fmt.Sprintf("It misfires now and then: at %.0f rpm a firing is missing in about %.0f %% of the cycles.", speed, 100*share)
}

func addMissShare(f *finding.Finding, m misses, low, high float64) {
	f.Quantities = append(f.Quantities, finding.Quantity{Name: MissesQuantity, Value: m.share, Low: low, High: high, Confidence: confidence})
	if f.Verdict == finding.Misfire {
		f.Notes = append(f.Notes, "it misses "+m.words())
	}
}

// tooRare reports whether misses at most in this share of the cycles cannot add
// up to the work that is missing on average: then they are not counted right, and
// it misses all the time.
func tooRare(most float64, j judgement) bool {
	return count(j.best()) == 1 && most < j.missing.low-missingBlur
}

// missingBlur is by how much, in cylinders' worth, the mean may overstate what
// is missing where misses shift the cycles that follow. Judgement.
const missingBlur = 0.2

// missOdds are the least odds of a misfire when cycles show it: a chance of 95 %.
const missOdds = 3.0

// atLeast raises the odds of all patterns with something missing.
func (j judgement) atLeast(odds float64) judgement {
	raise := odds - j.odds
	if raise <= 0 {
		return j
	}
	log := maps.Clone(j.log)
	for p := range log {
		if count(p) > 0 {
			log[p] += raise
		}
	}
	j.log, j.odds = log, odds
	return j
}
