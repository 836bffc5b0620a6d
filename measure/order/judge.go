package order

import (
	"math"
	"sort"

	"halforder/finding"
)

// judgement is the weight of each pattern, relative to all cylinders working.
type judgement struct {
	n        int
	patterns []finding.Pattern
	log      map[finding.Pattern]float64 // canonical patterns
	odds     float64                     // ln of misfire to no misfire at even chances before
	missing  interval                    // cylinders' worth
}

type interval struct{ value, low, high float64 }

// judge joins the bands. The upper bands hear the same events through the same
// paths, so their sum counts as the square root of their number. The low band
// arrives with its own delay, so its slots may be turned against theirs.
func judge(evidences []evidence, n int) judgement {
	j := judgement{n: n, log: map[finding.Pattern]float64{}}
	for _, p := range patternsOf(n) {
		if idles(p) {
			j.patterns = append(j.patterns, p)
		}
	}
	table := newTable(evidences)
	none := table.of(finding.AllWork(n))
	for _, p := range j.patterns {
		j.log[p] = table.of(p) - none
	}
	j.odds = j.misfireOdds()
	j.estimateMissing(table)
	return j
}

func (j judgement) misfireOdds() float64 {
	sum, total := math.Inf(-1), 0.0
	for _, p := range j.patterns[1:] {
		w := patternPrior(p)
		total += w
		sum = logAdd(sum, j.log[p]+math.Log(w))
	}
	return sum - math.Log(total)
}

// table computes likelihoods of turned patterns once.
type table struct {
	low, high []evidence
	known     map[finding.Pattern][]float64 // per band, low ones first
}

func newTable(evidences []evidence) *table {
	t := &table{known: map[finding.Pattern][]float64{}}
	for _, e := range evidences {
		if e.low {
			t.low = append(t.low, e)
		} else {
			t.high = append(t.high, e)
		}
	}
	return t
}

func (t *table) bands(p finding.Pattern) []float64 {
	if v, ok := t.known[p]; ok {
		return v
	}
	work := workOf(p)
	var out []float64
	for _, e := range append(append([]evidence(nil), t.low...), t.high...) {
		out = append(out, e.logLikelihood(work))
	}
	t.known[p] = out
	return out
}

// of is the log-likelihood of a pattern up to rotation.
func (t *table) of(p finding.Pattern) float64 {
	turns := rotations(p)
	var sum float64
	for b := range t.low {
		each := make([]float64, len(turns))
		for i, r := range turns {
			each[i] = t.bands(r)[b]
		}
		sum += logMean(each) * t.share(t.low)
	}
	if len(t.high) == 0 {
		return sum
	}
	each := make([]float64, len(turns))
	for i, r := range turns {
		for _, v := range t.bands(r)[len(t.low):] {
			each[i] += v * t.share(t.high)
		}
	}
	return sum + logMean(each)
}

// idles reports whether an engine can keep itself going with this pattern: half
// of its cylinders must work. Common practice, no source.
func idles(p finding.Pattern) bool {
	var work float64
	for _, w := range workOf(p) {
		work += w
	}
	return work >= float64(len(p))/2
}

// shareSteps divides the strength of one lazy cylinder.
const shareSteps = 10

// estimateMissing gives how much is missing, in cylinders' worth: the mean and
// the 5 and 95 % points over one cylinder of any strength and over the pairs.
func (j *judgement) estimateMissing(t *table) {
	type point struct{ missing, log float64 }
	var points []point
	all := finding.AllWork(j.n)
	none := t.of(all)
	for i := 0; i <= shareSteps; i++ {
		w := float64(i) / shareSteps
		points = append(points, point{1 - w, t.single(w) - none})
	}
	for _, p := range j.patterns[1:] {
		if n := count(p); n > 1 {
			var missing float64
			for _, w := range workOf(p) {
				missing += 1 - w
			}
			points = append(points, point{missing, j.log[p] + math.Log(patternPrior(p))})
		}
	}
	sort.Slice(points, func(a, b int) bool { return points[a].missing < points[b].missing })
	top := math.Inf(-1)
	for _, p := range points {
		top = max(top, p.log)
	}
	var sum, mean float64
	for _, p := range points {
		sum += math.Exp(p.log - top)
		mean += math.Exp(p.log-top) * p.missing
	}
	j.missing = interval{mean / sum, points[0].missing, points[len(points)-1].missing}
	var below float64
	for _, p := range points {
		before := below
		below += math.Exp(p.log-top) / sum
		if before <= 0.05 && below > 0.05 {
			j.missing.low = max(p.missing-0.5/shareSteps, 0)
		}
		if before < 0.95 && below >= 0.95 {
			j.missing.high = p.missing + 0.5/shareSteps
		}
	}
}

func count(p finding.Pattern) int {
	n := 0
	for _, s := range []byte(p) {
		if finding.State(s) != finding.Works {
			n++
		}
	}
	return n
}

// single is the log-likelihood of one cylinder, any, doing the share w.
func (t *table) single(w float64) float64 {
	n := len(append(t.low, t.high...)[0].strength)
	work := make([]float64, n)
	for k := range work {
		work[k] = 1
	}
	var lows [][]float64
	high := make([]float64, n)
	for k := range work {
		work[k] = w
		var low []float64
		for _, e := range t.low {
			low = append(low, e.logLikelihood(work))
		}
		lows = append(lows, low)
		for _, e := range t.high {
			high[k] += e.logLikelihood(work) * t.share(t.high)
		}
		work[k] = 1
	}
	sum := logMean(high)
	for b := range t.low {
		each := make([]float64, n)
		for k := range lows {
			each[k] = lows[k][b]
		}
		sum += logMean(each) * t.share(t.low)
	}
	return sum
}

// share is what each of several views that hear the same events may count.
// Views too noisy to say anything do not dilute the others.
func (t *table) share(views []evidence) float64 {
	var clear float64
	for _, e := range views {
		noise := mean(e.spread) / clearSpread
		clear += 1 / (1 + noise*noise)
	}
	return 1 / math.Sqrt(max(clear, 1))
}

// clearSpread is the error of the strengths above which a view says little.
const clearSpread = 0.2

func mean(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
