// Command habit holds the plan against the habits of the trade on made-up jobs
// drawn from the catalogue's priors, and prints what each cost and how often the
// stated beliefs were right.
//
//	go run ./tools/habit -jobs 2000
//	go run ./tools/habit -jobs 2000 -wrong    # priors wrong by a factor of two
package main

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

func main() {
	jobs := flag.Int("jobs", 2000, "made-up jobs for each policy")
	seed := flag.Uint64("seed", 1, "seed of the jobs")
	depth := flag.Int("depth", 0, "checks looked ahead, 0: as the program does")
	wrong := flag.Bool("wrong", false, "let the reasoner's priors be wrong by a factor of two")
	trace := flag.Bool("trace", false, "print every step")
	only := flag.Int("policies", len(policies), "how many of the policies to run, the plan first")
	flag.Parse()
	records, err := run(setup{*jobs, *seed, *depth, *wrong, *trace, *only})
	if err != nil {
		fmt.Fprintln(os.Stderr, "habit:", err)
		os.Exit(1)
	}
	fmt.Printf("%d jobs, seed %d, priors wrong by a factor of two: %v\n\n", *jobs, *seed, *wrong)
	printTable(os.Stdout, records)
	fmt.Println()
	printReliability(os.Stdout, records[0])
}

// class is a kind of car and how often it comes.
type class struct {
	name   string
	weight float64
	car    belief.Car
}

func classes() ([]class, error) {
	var out []class
	for _, x := range []struct {
		name, layout string
		ign          fault.Ignition
		inj          fault.Injection
		hard         []engine.Cylinder
		weight       float64
	}{
		{"three, coil on plug, direct", "i3", fault.SmartCoil, fault.Direct, nil, 1},
		{"four, coil on plug, port", "i4", fault.CoilOnPlug, fault.Port, nil, 4},
		{"four, coil on plug, direct", "i4", fault.SmartCoil, fault.Direct, nil, 2},
		{"four, wasted spark, port", "i4", fault.WastedSpark, fault.Port, nil, 1},
		{"flat four, port, hard", "flat4", fault.CoilOnPlug, fault.Port, []engine.Cylinder{1, 2, 3, 4}, 1},
		{"six in line, port", "i6", fault.CoilOnPlug, fault.Port, nil, 1},
		{"V6, rear bank under plenum", "v6-123456", fault.CoilOnPlug, fault.Port, []engine.Cylinder{1, 3, 5}, 2},
		{"V8, port", "v8-18436572", fault.NearPlug, fault.Port, nil, 1},
	} {
		l, err := engine.Parse(x.layout)
		if err != nil {
			return nil, err
		}
		out = append(out, class{x.name, x.weight, belief.Car{Layout: l, Ignition: x.ign, Injection: x.inj, Hard: x.hard}})
	}
	return out, nil
}

// complaints come this often. Judgement.
var complaints = []struct {
	c fault.Complaint
	w float64
}{{fault.DeadOne, 0.40}, {fault.WeakOne, 0.30}, {fault.Rough, 0.20}, {fault.RandomAll, 0.10}}

// wrongPriors makes each share of each cause wrong by up to a factor of two.
func wrongPriors(cat *fault.Catalogue, r *rand.Rand) *fault.Catalogue {
	factor := map[string]float64{}
	for _, x := range cat.Causes() {
		factor[x.Code] = math.Exp2(2*r.Float64() - 1)
	}
	return cat.WithPriors(func(_ fault.Complaint, cause string, share float64) float64 { return share * factor[cause] })
}

// setup is what one run of the command is asked to do.
type setup struct {
	jobs     int
	seed     uint64
	depth    int
	wrong    bool
	trace    bool
	policies int
}

func run(s setup) ([]*record, error) {
	cat, err := fault.Default()
	if err != nil {
		return nil, err
	}
	kinds, err := classes()
	if err != nil {
		return nil, err
	}
	var records []*record
	tried := policies[:max(1, min(s.policies, len(policies)))]
	for _, p := range tried {
		records = append(records, &record{name: p.name, depth: s.depth})
	}
	truths := map[string]*belief.Belief{}
	for job := range s.jobs {
		r := rand.New(rand.NewPCG(s.seed, uint64(job)))
		k := kinds[pick(r, len(kinds), func(i int) float64 { return kinds[i].weight })]
		k.car.Complaint = complaints[pick(r, len(complaints), func(i int) float64 { return complaints[i].w })].c
		key := k.name + string(k.car.Complaint)
		if truths[key] == nil {
			if truths[key], err = belief.New(cat, k.car, nil); err != nil {
				return nil, err
			}
		}
		believed := cat
		if s.wrong {
			believed = wrongPriors(cat, r)
		}
		for i, p := range tried {
			records[i].catalogue = believed
			if err := one(cat, k, truths[key], s, job, p, records[i]); err != nil {
				return nil, fmt.Errorf("job %d, %s: %w", job, p.name, err)
			}
		}
	}
	return records, nil
}

// one works a job with a policy. All policies get the same truth.
func one(cat *fault.Catalogue, k class, truths *belief.Belief, s setup, job int, p policy, rec *record) error {
	b, err := newBench(cat, k.car, rand.New(rand.NewPCG(s.seed+1, uint64(job))), truths)
	if err != nil {
		return err
	}
	if s.trace {
		b.trace = func(format string, args ...any) { fmt.Printf(format+"\n", args...) }
		fmt.Printf("job %d, %s, %s, %s: %v\n", job, k.name, k.car.Complaint, p.name, b.truth)
	}
	needed := b.own()
	b.truth0 = append(b.truth0, b.truth...)
	if err := p.run(b, rec); err != nil {
		return err
	}
	if s.trace {
		fmt.Printf("  = %.0f, needed %.0f\n", b.money, needed)
	}
	rec.close(outcome{k.name, b.money, b.money - needed, b.minutes, b.needless, b.comeback, b.handed})
	return nil
}

func pick(r *rand.Rand, n int, weight func(int) float64) int {
	sum := 0.0
	for i := range n {
		sum += weight(i)
	}
	u := r.Float64() * sum
	for i := range n {
		if u -= weight(i); u < 0 {
			return i
		}
	}
	return n - 1
}
