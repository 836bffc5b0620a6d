package main

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"text/tabwriter"
)

// column picks a number from the outcomes of a job.
type column func(outcome) float64

func cost(o outcome) float64     { return o.Cost }
func extra(o outcome) float64    { return o.Extra }
func priced(o outcome) float64   { return o.Cost - o.Trust }
func minutes(o outcome) float64  { return o.Minutes }
func needless(o outcome) float64 { return float64(o.Needless) }
func comeback(o outcome) float64 { return 100 * oneIf(o.Comeback) }
func handed(o outcome) float64   { return 100 * oneIf(o.Handed) }

func oneIf(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// mean of a column for a policy, with half its 95 % interval.
func mean(lines []line, policy int, f column) (m, half float64) {
	n, s, q := float64(len(lines)), 0.0, 0.0
	for _, l := range lines {
		v := f(l.Outcomes[policy])
		s, q = s+v, q+v*v
	}
	if n < 2 {
		return s, 0
	}
	m = s / n
	return m, 1.96 * math.Sqrt(max(q/n-m*m, 0)/(n-1))
}

// paired is by how much the plan is less than a policy on the same job, on average,
// with half its 95 % interval.
func paired(lines []line, policy int, f column) (less, half float64) {
	n, s, q := float64(len(lines)), 0.0, 0.0
	for _, l := range lines {
		d := f(l.Outcomes[policy]) - f(l.Outcomes[0])
		s, q = s+d, q+d*d
	}
	if n < 2 {
		return s, 0
	}
	less = s / n
	return less, 1.96 * math.Sqrt(max(q/n-less*less, 0)/(n-1))
}

// saving is the share by which the plan is cheaper than a policy, with its 95 %
// interval from resampling whole jobs. Seeded, so that a table can be had again.
func saving(lines []line, policy int, f column) (share, low, high float64) {
	ratio := func(at func(i int) line) float64 {
		mine, theirs := 0.0, 0.0
		for i := range lines {
			l := at(i)
			mine, theirs = mine+f(l.Outcomes[0]), theirs+f(l.Outcomes[policy])
		}
		return 1 - mine/theirs
	}
	r := rand.New(rand.NewPCG(1, uint64(policy)))
	var all []float64
	for range resamples {
		all = append(all, ratio(func(int) line { return lines[r.IntN(len(lines))] }))
	}
	slices.Sort(all)
	return ratio(func(i int) line { return lines[i] }), all[resamples/40], all[resamples-1-resamples/40]
}

const resamples = 1000

func printTable(w io.Writer, lines []line) {
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "policy\tcost\t±\twithout lost trust\tabove needed\t±\tminutes\tneedless parts\t±\tcomebacks %\thanded on %\tplan is cheaper by\t95 %\t")
	for p := range lines[0].Outcomes {
		c, ch := mean(lines, p, cost)
		plain, _ := mean(lines, p, priced)
		e, eh := mean(lines, p, extra)
		min, _ := mean(lines, p, minutes)
		need, nh := mean(lines, p, needless)
		back, _ := mean(lines, p, comeback)
		on, _ := mean(lines, p, handed)
		share, low, high := saving(lines, p, cost)
		fmt.Fprintf(t, "%s\t%.0f\t%.0f\t%.0f\t%.0f\t%.0f\t%.0f\t%.3f\t%.3f\t%.1f\t%.1f\t%.1f %%\t%.1f–%.1f\t\n",
			policies[p].name, c, ch, plain, e, eh, min, need, nh, back, on, 100*share, 100*low, 100*high)
	}
	flush(t)
	printClasses(w, lines)
}

// printClasses says in which kind of car the plan is how much cheaper.
func printClasses(w io.Writer, lines []line) {
	byClass := map[string][]line{}
	var names []string
	for _, l := range lines {
		if byClass[l.Class] == nil {
			names = append(names, l.Class)
		}
		byClass[l.Class] = append(byClass[l.Class], l)
	}
	slices.Sort(names)
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(t, "\nplan is cheaper by, % (95 %), money a job\tjobs\tcost of the plan")
	for p := range lines[0].Outcomes[1:] {
		fmt.Fprintf(t, "\tthan %s", policies[p+1].name)
	}
	fmt.Fprintln(t, "\t")
	for _, name := range names {
		own, _ := mean(byClass[name], 0, cost)
		fmt.Fprintf(t, "%s\t%d\t%.0f", name, len(byClass[name]), own)
		for p := range lines[0].Outcomes[1:] {
			share, low, high := saving(byClass[name], p+1, cost)
			less, half := paired(byClass[name], p+1, cost)
			fmt.Fprintf(t, "\t%.1f (%.1f to %.1f), %.0f ± %.0f", 100*share, 100*low, 100*high, less, half)
		}
		fmt.Fprintln(t, "\t")
	}
	flush(t)
}

func flush(t *tabwriter.Writer) {
	if err := t.Flush(); err != nil {
		panic(err) // only a writer that fails
	}
}

// reliability is how beliefs of one tenth compare with the truth. Off is right
// less stated; beliefs within a job hang together, so its interval counts jobs.
type reliability struct {
	n             int
	stated, right float64
	off, half     float64
}

func reliabilityOf(lines []line, tenth int) reliability {
	var out reliability
	sum, square := 0.0, 0.0
	for _, l := range lines {
		d := l.Outcomes[0].Notes.By[tenth]
		off := float64(d.Right) - d.Sum
		out.n += d.N
		out.stated, out.right = out.stated+d.Sum, out.right+float64(d.Right)
		sum, square = sum+off, square+off*off
	}
	n := max(float64(out.n), 1)
	return reliability{out.n, out.stated / n, out.right / n, sum / n, 1.96 * math.Sqrt(square) / n}
}

// printReliability says how often the plan's beliefs of each tenth were right.
func printReliability(w io.Writer, lines []line) {
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "stated\tcases\tmean stated\tright\toff, points\t± 95 %\t")
	for i := range 10 {
		if d := reliabilityOf(lines, i); d.n > 0 {
			fmt.Fprintf(t, "%d–%d %%\t%d\t%.1f %%\t%.1f %%\t%+.1f\t%.1f\t\n", 10*i, 10*i+10, d.n, 100*d.stated, 100*d.right, 100*d.off, 100*d.half)
		}
	}
	flush(t)
	accused, sold := 0.0, 0.0
	for _, l := range lines {
		accused += oneIf(l.Outcomes[0].Notes.Accused)
		sold += oneIf(l.Outcomes[0].Notes.Sold)
	}
	n := float64(len(lines))
	fmt.Fprintf(w, "a good part stood at 90 %% or more at some step: %.0f of %.0f jobs (%.2f %%); was renewed so: %.0f (%.2f %%)\n", accused, n, 100*accused/n, sold, 100*sold/n)
}
