package order

import (
	"math"
	"slices"
	"sort"
	"strings"

	"halforder/finding"
)

// judgement is the weight of each pattern, relative to all cylinders working.
type judgement struct {
	n        int
	patterns []finding.Pattern
	log      map[finding.Pattern]float64 // canonical patterns
	odds     float64                     // ln of misfire to no misfire at even chances before
	bass     float64                     // the same from the low band alone
	upper    float64                     // and from the upper bands alone
	missing  interval                    // cylinders' worth
	rough    float64                     // neighbour ratio, 1 for one dead cylinder; 0 when unknown
}

type interval struct{ value, low, high float64 }

// judge joins the bands. The upper bands hear the same events through the same
// paths, so their sum counts as the square root of their number. The low band
// arrives with its own delay, so its slots may be turned against theirs.
func judge(evidences []evidence, ratio ratio, n int) judgement {
	return newTable(evidences, ratio, n).judge()
}

func (t *table) judge() judgement {
	j := judgement{n: t.n, log: map[finding.Pattern]float64{}}
	for _, p := range patternsOf(t.n) {
		if idles(p) {
			j.patterns = append(j.patterns, p)
		}
	}
	bass, upper := map[finding.Pattern]float64{}, map[finding.Pattern]float64{}
	for _, p := range j.patterns {
		bass[p], upper[p] = t.of(p)
		j.log[p] = bass[p] + upper[p]
	}
	j.rough = t.ratio.value * float64(t.n-1)
	j.odds, j.bass, j.upper = j.misfireOdds(j.log), j.misfireOdds(bass), j.misfireOdds(upper)
	j.estimateMissing(t.single)
	return j
}

func (j judgement) misfireOdds(log map[finding.Pattern]float64) float64 {
	sum, total := math.Inf(-1), 0.0
	for _, p := range j.patterns {
		if !strings.ContainsRune(string(p), rune(finding.Dead)) {
			continue
		}
		w := patternPrior(p)
		total += w
		sum = logAdd(sum, log[p]+math.Log(w))
	}
	return sum - math.Log(total)
}

// table computes likelihoods of turned patterns once.
type table struct {
	low, high           []evidence
	views               []evidence // low ones first
	ratio               ratio
	n                   int
	none                []float64 // by view: log-likelihood of all working
	lowShare, highShare float64
	rests               prior                           // weights of what stays of a dead cylinder in the upper views
	known               map[finding.Pattern][][]float64 // per band, low ones first
}

func newTable(evidences []evidence, ratio ratio, n int) *table {
	t := &table{n: n, ratio: ratio, rests: highRest, known: map[finding.Pattern][][]float64{}}
	for _, e := range evidences {
		e = e.ready()
		if e.low {
			t.low = append(t.low, e)
		} else {
			t.high = append(t.high, e)
		}
	}
	t.views = append(append(t.views, t.low...), t.high...)
	for _, e := range t.views {
		t.none = append(t.none, e.logLikelihoods(workOf(finding.AllWork(n)))[0])
	}
	if t.ratio.value > 0 {
		t.none = append(t.none, ratio.logLikelihoods(workOf(finding.AllWork(n)))[0])
	}
	t.lowShare, t.highShare = share(t.low)/math.Sqrt2, share(t.high) // the low views come in pairs
	return t
}

func (t *table) bands(p finding.Pattern) [][]float64 {
	if v, ok := t.known[p]; ok {
		return v
	}
	t.known[p] = t.relative(workOf(p))
	return t.known[p]
}

// of is the log-likelihood of a pattern up to rotation, less that of all
// working, from the low band and from the upper bands.
func (t *table) of(p finding.Pattern) (bass, upper float64) {
	turns := rotations(p)
	low, high := make([]float64, len(turns)), make([]float64, len(turns))
	for i, r := range turns {
		low[i], high[i] = t.both(t.bands(r))
	}
	return logMean(low), logMean(high)
}

// alike is the chance that what stays audible of a dead cylinder is the same
// share in all views of one kind; otherwise each view has its own. Judgement.
const alike = 0.6

// relative is the log-likelihood of each view, for each value of its rests,
// less that of all working.
func (t *table) relative(work []float64) [][]float64 {
	out := make([][]float64, len(t.views))
	for b := range t.views {
		out[b] = t.views[b].logLikelihoods(work)
		for i := range out[b] {
			out[b][i] -= t.none[b]
		}
	}
	if t.ratio.value > 0 {
		last := t.ratio.logLikelihoods(work)
		for i := range last {
			last[i] -= t.none[len(t.views)]
		}
		out = append(out, last)
	}
	return out
}

// both joins the views of the low band and those of the upper bands.
func (t *table) both(views [][]float64) (low, high float64) {
	lows := views[:len(t.low):len(t.low)]
	low, high = join(lows, lowRest, t.lowShare), join(views[len(t.low):len(t.views)], t.rests, t.highShare)
	if t.ratio.value > 0 {
		low += join(views[len(t.views):], t.ratio.rests, 1)
	}
	return low, high
}

// join weighs what stays audible in views of one kind: the same share in all, or
// in each its own.
func join(views [][]float64, rests prior, share float64) float64 {
	if len(views) == 0 {
		return 0
	}
	likely, each := make([]float64, len(rests)), make([]float64, len(rests))
	for i := range likely {
		likely[i] = 1
	}
	var tops float64
	for _, view := range views {
		top, own := slices.Max(view), 0.0
		if math.IsInf(top, -1) {
			return top
		}
		tops += top
		for i, r := range rests {
			each[i] = math.Exp(view[i] - top)
			own += r.weight * each[i]
		}
		for i, v := range each {
			likely[i] *= alike*v + (1-alike)*own
		}
	}
	var total float64
	for i, r := range rests {
		total += r.weight * math.Exp(share*math.Log(likely[i]))
	}
	return share*tops + math.Log(total)
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
func (j *judgement) estimateMissing(single func(work float64) float64) {
	type point struct{ missing, log float64 }
	var points []point
	for i := 0; i <= shareSteps; i++ {
		w := float64(i) / shareSteps
		points = append(points, point{1 - w, single(w)})
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
	n := t.n
	work := workOf(finding.AllWork(n))
	low, high := make([]float64, n), make([]float64, n)
	for k := range work {
		work[k] = w
		low[k], high[k] = t.both(t.relative(work))
		work[k] = 1
	}
	return logMean(low) + logMean(high)
}

// share is what each of several views that hear the same events may count.
// Views too noisy to say anything do not dilute the others.
func share(views []evidence) float64 {
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
