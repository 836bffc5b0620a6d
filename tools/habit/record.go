package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"text/tabwriter"

	"halforder/reason/belief"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

// record is what the jobs of one policy came to.
type record struct {
	catalogue *fault.Catalogue // what the reasoner believes, which may be wrong
	depth     int
	name      string
	jobs      []outcome
	deciles   [10]decile
	accusing  bool // this job accused a good part at 0.9 or more
	accused   int  // jobs that did
}

// outcome is one job. Extra is the cost above the repairs that were needed.
type outcome struct {
	class    string
	cost     float64
	extra    float64
	minutes  float64
	needless int
	comeback bool
	handed   bool
}

// decile collects beliefs of one tenth.
type decile struct {
	n     int
	sum   float64
	right int
}

// note puts the beliefs in suspects beside the truth.
func (r *record) note(b *bench, bel *belief.Belief) {
	for _, s := range bel.Suspects() {
		if s.P < 0.01 {
			break
		}
		right := slices.ContainsFunc(b.original(), func(f belief.Fault) bool {
			return f.Cause == s.Cause && f.Site.Name == s.Site.Name && f.Site.Kind == s.Site.Kind
		})
		d := &r.deciles[min(int(s.P*10), 9)]
		d.n++
		d.sum += s.P
		if right {
			d.right++
		}
		if s.P >= 0.9 && !right && s.Site.Part != "" {
			r.accusing = true
		}
	}
}

func (r *record) close(o outcome) {
	r.jobs = append(r.jobs, o)
	if r.accusing {
		r.accused++
	}
	r.accusing = false
}

func (r *record) mean(f func(outcome) float64, class string) (mean, half float64) {
	n, s, q := 0.0, 0.0, 0.0
	for _, o := range r.jobs {
		if class == "" || o.class == class {
			v := f(o)
			n, s, q = n+1, s+v, q+v*v
		}
	}
	if n < 2 {
		return s, 0
	}
	mean = s / n
	return mean, 1.96 * math.Sqrt(max(q/n-mean*mean, 0)/(n-1))
}

func oneIf(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// printTable compares the policies; intervals are 95 %.
func printTable(w io.Writer, records []*record) {
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "policy\tcost\t±\tabove needed\t±\tminutes\tneedless parts\tcomebacks %\thanded on %\tplan saves of above needed\t")
	base, _ := records[0].mean(func(o outcome) float64 { return o.extra }, "")
	for _, r := range records {
		cost, ch := r.mean(func(o outcome) float64 { return o.cost }, "")
		extra, eh := r.mean(func(o outcome) float64 { return o.extra }, "")
		minutes, _ := r.mean(func(o outcome) float64 { return o.minutes }, "")
		needless, _ := r.mean(func(o outcome) float64 { return float64(o.needless) }, "")
		back, _ := r.mean(func(o outcome) float64 { return 100 * oneIf(o.comeback) }, "")
		handed, _ := r.mean(func(o outcome) float64 { return 100 * oneIf(o.handed) }, "")
		fmt.Fprintf(t, "%s\t%.0f\t%.0f\t%.0f\t%.0f\t%.0f\t%.3f\t%.1f\t%.1f\t%.0f %%\t\n", r.name, cost, ch, extra, eh, minutes, needless, back, handed, 100*(1-base/extra))
	}
	flush(t)
	printClasses(w, records)
}

func printClasses(w io.Writer, records []*record) {
	var classes []string
	for _, o := range records[0].jobs {
		if !slices.Contains(classes, o.class) {
			classes = append(classes, o.class)
		}
	}
	slices.Sort(classes)
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(t, "cost by class")
	for _, r := range records {
		fmt.Fprintf(t, "\t%s", r.name)
	}
	fmt.Fprintln(t, "\tworst against plan\t")
	for _, c := range classes {
		fmt.Fprint(t, c)
		base, _ := records[0].mean(func(o outcome) float64 { return o.cost }, c)
		worst := 0.0
		for _, r := range records {
			m, _ := r.mean(func(o outcome) float64 { return o.cost }, c)
			worst = max(worst, base/m-1)
			fmt.Fprintf(t, "\t%.0f", m)
		}
		fmt.Fprintf(t, "\t%+.1f %%\t\n", 100*worst)
	}
	flush(t)
}

func flush(t *tabwriter.Writer) {
	if err := t.Flush(); err != nil {
		panic(err) // only a writer that fails
	}
}

// printReliability says how often beliefs of each tenth were right.
func printReliability(w io.Writer, r *record) {
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "stated\tcases\tmean stated\tright\t95 % of right\t")
	for i, d := range r.deciles {
		if d.n == 0 {
			continue
		}
		ci, err := plan.Wilson(d.right, d.n, 0.95)
		if err != nil {
			continue
		}
		fmt.Fprintf(t, "%d–%d %%\t%d\t%.1f %%\t%.1f %%\t%.1f–%.1f %%\t\n", 10*i, 10*i+10, d.n, 100*d.sum/float64(d.n), 100*float64(d.right)/float64(d.n), 100*ci.Low, 100*ci.High)
	}
	flush(t)
	fmt.Fprintf(w, "a good part accused with 90 %% or more: %d of %d jobs\n", r.accused, len(r.jobs))
}
