// Command habit holds the plan against the habits of the trade on made-up jobs
// drawn from the catalogue's priors, and prints what each cost and how often the
// stated beliefs were right.
//
//	go run ./tools/habit -jobs 2000
//	go run ./tools/habit -jobs 2000 -wrong    # priors wrong by a factor of two
//	go run ./tools/habit -jobs 800 -class V8 -against "information alone"
//	go run ./tools/habit -jobs 2000 -save run.jsonl    # may be stopped and started again
package main

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"

	"halforder/reason/belief"
	"halforder/reason/fault"
)

func main() {
	var s setup
	flag.IntVar(&s.jobs, "jobs", 2000, "made-up jobs for each policy")
	flag.Uint64Var(&s.seed, "seed", 1, "seed of the jobs")
	flag.IntVar(&s.depth, "depth", 0, "checks looked ahead, 0: as the program does")
	flag.BoolVar(&s.wrong, "wrong", false, "let the reasoner's priors be wrong by a factor of two")
	flag.BoolVar(&s.trace, "trace", false, "print every step")
	flag.IntVar(&s.only, "job", -1, "do only the job of this number, as with -trace")
	flag.IntVar(&s.policies, "policies", len(policies), "how many of the policies to run, the plan first")
	flag.StringVar(&s.class, "class", "", "only cars whose kind contains this, such as V8")
	against := flag.String("against", "", "hold the plan only against the policy of this name")
	flag.StringVar(&s.save, "save", "", "file to which finished jobs are added and from which they are taken")
	flag.Parse()
	if *against != "" {
		policies = slices.DeleteFunc(policies, func(p policy) bool { return p.name != policies[0].name && p.name != *against })
	}
	lines, err := run(s)
	if err != nil {
		fmt.Fprintln(os.Stderr, "habit:", err)
		os.Exit(1)
	}
	if len(lines) == 0 {
		fmt.Fprintln(os.Stderr, "habit: no jobs asked for: give -jobs 1 or more")
		os.Exit(2)
	}
	fmt.Printf("%d jobs, seed %d, priors wrong by a factor of two: %v\n\n", len(lines), s.seed, s.wrong)
	printTable(os.Stdout, lines)
	fmt.Println()
	printReliability(os.Stdout, lines)
	printMoved(os.Stdout, lines)
}

// setup is what one run of the command is asked to do.
type setup struct {
	jobs     int
	seed     uint64
	depth    int
	wrong    bool
	trace    bool
	policies int
	save     string
	only     int
	class    string
}

// block is how many jobs are drawn at a time. Alike ones are done together,
// which is faster; what is saved stays a fair sample to within a block.
const block = 200

func run(s setup) ([]line, error) {
	cat, err := fault.Default()
	if err != nil {
		return nil, err
	}
	lines, err := readLines(s.save)
	if err != nil {
		return nil, err
	}
	done := map[int]bool{}
	for _, l := range lines {
		done[l.Job] = true
	}
	for job := range s.jobs {
		done[job] = done[job] || s.only >= 0 && job != s.only
	}
	known := starts{cat: cat, seed: s.seed, by: map[string]start{}}
	for from := 0; from < s.jobs; from += block {
		tasks, err := drawTasks(s, from, min(from+block, s.jobs), done)
		if err != nil {
			return nil, err
		}
		more, err := s.work(&known, tasks)
		if err != nil {
			return nil, err
		}
		lines = append(lines, more...)
		if err := addLines(s.save, more); err != nil {
			return nil, err
		}
	}
	return lines, nil
}

// start is what is true of a kind of car and what the reasoner takes to be true,
// both before any evidence. They remember predictions, so they are kept.
type start struct {
	true0    *truths
	believed *belief.Belief
}

type starts struct {
	cat  *fault.Catalogue
	seed uint64
	by   map[string]start
}

// mostStarts bounds the memory they take.
const mostStarts = 40

func (s *starts) of(t task) (start, error) {
	if x, ok := s.by[t.key()]; ok {
		return x, nil
	}
	if len(s.by) >= mostStarts {
		clear(s.by)
	}
	true0, err := newTruths(s.cat, t.car)
	if err != nil {
		return start{}, err
	}
	x := start{true0, true0.belief}
	if t.distorted > 0 {
		if x.believed, err = belief.New(wrongPriors(s.cat, s.seed, t.distorted), t.car, nil); err != nil {
			return start{}, err
		}
	}
	s.by[t.key()] = x
	return x, nil
}

// work does the tasks with all policies.
func (s setup) work(known *starts, tasks []task) ([]line, error) {
	var out []line
	for _, t := range tasks {
		x, err := known.of(t)
		if err != nil {
			return nil, err
		}
		l := line{Job: t.job, Class: t.kind}
		for _, p := range policies[:max(1, min(s.policies, len(policies)))] {
			o, err := s.one(x, t, p)
			if err != nil {
				return nil, fmt.Errorf("job %d, %s: %w", t.job, p.name, err)
			}
			l.Outcomes = append(l.Outcomes, o)
		}
		out = append(out, l)
	}
	return out, nil
}

// one works a job with a policy. All policies get the same truth.
func (s setup) one(x start, t task, p policy) (outcome, error) {
	b := newBench(x.true0, rand.New(rand.NewPCG(s.seed+1, uint64(t.job))))
	if s.trace {
		b.trace = func(format string, args ...any) { fmt.Printf(format+"\n", args...) }
		fmt.Printf("job %d, %s, %s, %s: %v\n", t.job, t.kind, b.car.Complaint, p.name, b.truth)
	}
	b.start, b.depth, b.talks = x.believed, s.depth, s.trace
	needed := b.own()
	if err := p.run(b); err != nil {
		return outcome{}, err
	}
	if s.trace {
		fmt.Printf("  = %.0f, needed %.0f\n", b.money, needed)
	}
	out := outcome{b.money, b.money - needed, b.trust, b.minutes, b.needless, b.comeback, b.handed, b.notes, nil}
	if t.distorted == 0 || p.name != policies[0].name {
		return out, nil
	}
	var err error
	out.Moved, err = b.whatMoved(x)
	return out, err
}
