package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"

	"halforder/reason/belief"
)

// moved compares what two reasoners with different priors make of the same
// evidence: the suspect that leads with the true priors, what both give it, and
// whether it leads with the wrong ones too.
type moved struct {
	Cause string  `json:"cause"`
	True  float64 `json:"true"`
	Wrong float64 `json:"wrong"`
	Leads bool    `json:"leads"`
}

// whatMoved works the evidence of a finished job through with both priors.
func (b *bench) whatMoved(x start) (*moved, error) {
	right, err := b.believe(x.true0.belief)
	if err != nil {
		return nil, err
	}
	wrong, err := b.believe(x.believed)
	if err != nil {
		return nil, err
	}
	lead, rival := right.Suspects()[0], wrong.Suspects()[0]
	out := &moved{Cause: lead.Cause, True: lead.P, Leads: sameFault(lead, rival)}
	for _, s := range wrong.Suspects() {
		if sameFault(s, lead) {
			out.Wrong = s.P
		}
	}
	return out, nil
}

func sameFault(a, b belief.Suspect) bool {
	return a.Cause == b.Cause && a.Site.Name == b.Site.Name
}

// printMoved says what wrong priors moved, nothing where they were right.
func printMoved(w io.Writer, lines []line) {
	byCause := map[string][]moved{}
	var shifts []float64
	others := 0
	for _, l := range lines {
		m := l.Outcomes[0].Moved
		if m == nil {
			continue
		}
		byCause[m.Cause] = append(byCause[m.Cause], *m)
		shifts = append(shifts, math.Abs(m.Wrong-m.True))
		if !m.Leads {
			others++
		}
	}
	if len(shifts) == 0 {
		return
	}
	slices.Sort(shifts)
	total := 0.0
	for _, s := range shifts {
		total += s
	}
	n := len(shifts)
	fmt.Fprintf(w, "\nWhat the wrong priors moved, on the same evidence at the end of %d jobs: the belief in the leading suspect\nby %.1f points on average, in one job of ten by %.1f or more; in %.1f %% of the jobs another suspect leads.\n",
		n, 100*total/float64(n), 100*shifts[n*9/10], 100*float64(others)/float64(n))
	printMovedCauses(w, byCause)
}

// leastJobs is from how many jobs a cause is listed.
const leastJobs = 10

func printMovedCauses(w io.Writer, byCause map[string][]moved) {
	type row struct {
		cause       string
		n           int
		shift, away float64
	}
	var rows []row
	for cause, all := range byCause {
		r := row{cause: cause, n: len(all)}
		for _, m := range all {
			r.shift += math.Abs(m.Wrong-m.True) / float64(len(all))
			r.away += oneIf(!m.Leads) / float64(len(all))
		}
		if r.n >= leastJobs {
			rows = append(rows, r)
		}
	}
	slices.SortFunc(rows, func(a, b row) int {
		return cmp.Or(cmp.Compare(b.shift, a.shift), cmp.Compare(a.cause, b.cause))
	})
	for _, r := range rows[:min(8, len(rows))] {
		fmt.Fprintf(w, "  %-18s %4d jobs, moved by %4.1f points, no longer leads in %4.1f %%\n", r.cause, r.n, 100*r.shift, 100*r.away)
	}
}
