package order

import (
	"fmt"
	"math"
	"slices"

	"halforder/finding"
)

// cutSays turns the verdict where the firings alone left it open or missed a weak
// one, and a cut, which shows what a firing is worth in this very sound, tells. A
// doubt about the speed, which leaves no odds, stays; so does one about misses now
// and then where nobody is named.
func (h *heard) cutSays(f *finding.Finding, named *finding.Likelihood, j judgement) {
	if len(h.weighers) == 0 || f.Verdict == finding.Misfire || j.odds == 0 {
		return
	}
	speed := h.total.speed()
	all := suspicions(named, h.layout)
	works := chanceOfAllWork(named)
	_, open := j.verdict(speed)
	switch {
	case slices.ContainsFunc(all, suspicion.isDead):
		f.Sentence = fmt.Sprintf("It misfires: at %.0f rpm the cut shows that a firing is missing.", speed)
	case slices.ContainsFunc(all, suspicion.isNamed):
		f.Sentence = fmt.Sprintf("A cylinder is weak: at %.0f rpm the cut shows that a firing is fainter than the others.", speed)
	case works >= nameChance && f.Verdict == finding.CannotTell && f.Sentence == open:
		f.Verdict = finding.NoMisfire
		f.Sentence = fmt.Sprintf("No misfire heard: at %.0f rpm all %d firings are there, as the cut shows.", speed, h.layout.N())
		setChance(f, min(chanceOf(j.odds), 1-works))
		return
	case f.Verdict == finding.NoMisfire && works < 0.5:
		f.Verdict = finding.CannotTell
		f.Sentence = fmt.Sprintf("Cannot tell: at %.0f rpm all firings are about as loud, yet by the cut one is rather weak.", speed)
		setChance(f, 1-works)
		return
	default:
		return
	}
	f.Verdict = finding.Misfire
	setChance(f, max(chanceOf(j.odds), 1-works))
}

func chanceOf(odds float64) float64 { return 1 / (1 + math.Exp(-odds)) }

func setChance(f *finding.Finding, chance float64) {
	for i, q := range f.Quantities {
		if q.Name == ChanceQuantity {
			f.Quantities[i].Value, f.Quantities[i].Low, f.Quantities[i].High = chance, chance, chance
		}
	}
}

// chanceOfAllWork counts the priors of the patterns.
func chanceOfAllWork(l *finding.Likelihood) float64 {
	total, works := math.Inf(-1), math.Inf(-1)
	for p, v := range l.Log {
		total = logAdd(total, v+namedPrior(p))
		if count(p) == 0 {
			works = v
		}
	}
	return math.Exp(works - total)
}

// weigher is the log-likelihood of the work of every firing position by one cut.
type weigher func(work []float64) float64

// workOfOne is how much the cylinder at a position does when all others work, by
// all cuts: the mean and the 5 and 95 % points.
func (h *heard) workOfOne(position int) interval {
	var logs []float64
	work := workOf(finding.AllWork(h.layout.N()))
	for i := range workSteps {
		work[position] = (float64(i) + 0.5) / workSteps
		sum := 0.0
		for _, w := range h.weighers {
			sum += w(work)
		}
		logs = append(logs, sum)
	}
	out, below := interval{low: math.NaN()}, 0.0
	for i, v := range chances(logs) {
		share := math.Exp(v)
		out.value += share * (float64(i) + 0.5) / workSteps
		if below < 0.05 && below+share >= 0.05 {
			out.low = float64(i) / workSteps
		}
		if below < 0.95 && below+share >= 0.95 {
			out.high = float64(i+1) / workSteps
		}
		below += share
	}
	return out
}

// workSteps divide the work of a cylinder.
const workSteps = 20

// addWork says how much a weak cylinder does.
func (h *heard) addWork(f *finding.Finding, all []suspicion) {
	if len(h.weighers) == 0 || f.Verdict != finding.Misfire {
		return
	}
	k := slices.IndexFunc(all, suspicion.isNamed)
	if k < 0 || all[k].isDead() || slices.ContainsFunc(all[k+1:], suspicion.isNamed) {
		return // none, or several: whose work it is would not be plain
	}
	w := h.workOfOne(k)
	f.Quantities = append(f.Quantities, finding.Quantity{Name: fmt.Sprintf("work of cylinder %d", all[k].cylinder),
		Value: w.value, Low: w.low, High: w.high, Confidence: confidence})
	f.Sentence += fmt.Sprintf(" It does about %.0f %% of its work (%.0f to %.0f %%).", 100*w.value, 100*w.low, 100*w.high)
}
