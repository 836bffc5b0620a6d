package belief

import (
	"cmp"
	"math"
	"slices"
)

// Influence is how much one piece of evidence moved a belief: the natural log
// of the odds with it over the odds without it. Positive speaks for.
type Influence struct {
	Evidence int     `json:"evidence"` // index into Evidence, of the first with the ID
	ID       string  `json:"id"`
	LogRatio float64 `json:"log_ratio"`
}

// MovedBy lists what moved the belief that a cause is there at a site,
// strongest first: each piece of evidence is left out in turn, those of one ID
// together. Infinite when it alone decides.
func (b *Belief) MovedBy(f Fault) []Influence {
	return b.moved(func(faults []int) bool {
		for _, i := range faults {
			g := &b.m.faults[i]
			if g.cause.Code == f.Cause && b.m.sites[g.site].Name == f.Site.Name && b.m.sites[g.site].Part == f.Site.Part {
				return true
			}
		}
		return false
	})
}

// IfPriorWrong is the range of a probability when the prior of what it stands for
// is wrong by a factor either way: the odds scale by just that factor.
func IfPriorWrong(p, factor float64) (low, high float64) {
	return p / (p + factor*(1-p)), factor * p / (factor*p + 1 - p)
}

// MovedNotMisfire is MovedBy for "not a misfire".
func (b *Belief) MovedNotMisfire() []Influence {
	return b.moved(func(faults []int) bool { return len(faults) == 0 })
}

func (b *Belief) moved(target func([]int) bool) []Influence {
	in := make([]bool, 0, len(b.post))
	b.each(func(faults []int, _ float64) { in = append(in, target(faults)) })
	with := logOdds(b.post, in)
	var out []Influence
	told := map[string]bool{}
	for i, col := range b.columns {
		name := b.nameOf(i)
		if col == nil || told[name] {
			continue
		}
		told[name] = true
		out = append(out, Influence{i, name, with - logOdds(b.without(name), in)})
	}
	slices.SortStableFunc(out, func(x, y Influence) int { return cmp.Compare(math.Abs(y.LogRatio), math.Abs(x.LogRatio)) })
	return out
}

// without is the posterior with the evidence of one name left out.
func (b *Belief) without(name string) []float64 {
	logW := slices.Clone(b.h.logW)
	for i, col := range b.columns {
		if col != nil && b.nameOf(i) != name {
			col.add(b.h, logW)
		}
	}
	return normalise(logW)
}

func logOdds(post []float64, in []bool) float64 {
	yes, no := 0.0, 0.0
	for i, p := range post {
		if in[i] {
			yes += p
		} else {
			no += p
		}
	}
	switch {
	case yes == 0:
		return negInf
	case no == 0:
		return math.Inf(1)
	}
	return math.Log(yes) - math.Log(no)
}
