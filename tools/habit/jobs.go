package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

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
func wrongPriors(cat *fault.Catalogue, seed uint64, set int) *fault.Catalogue {
	r := rand.New(rand.NewPCG(seed, uint64(set)<<32))
	factor := map[string]float64{}
	for _, x := range cat.Causes() {
		factor[x.Code] = math.Exp2(2*r.Float64() - 1)
	}
	return cat.WithPriors(func(_ fault.Complaint, cause string, share float64) float64 { return share * factor[cause] })
}

// distortions is how many sets of wrong priors a run has. Each job gets one.
const distortions = 10

// task is a job to be done: a kind of car with a complaint, and with which
// priors the reasoner works, 0 for the true ones.
type task struct {
	job       int
	kind      string
	car       belief.Car
	distorted int
}

func (t task) key() string { return t.kind + string(t.car.Complaint) + string(rune('0'+t.distorted)) }

// drawTasks lists jobs from..to−1 of a seed, alike ones together.
func drawTasks(s setup, from, to int, done map[int]bool) ([]task, error) {
	kinds, err := classes()
	if err != nil {
		return nil, err
	}
	if kinds = slices.DeleteFunc(kinds, func(k class) bool { return !strings.Contains(k.name, s.class) }); len(kinds) == 0 {
		return nil, fmt.Errorf("no kind of car contains %q", s.class)
	}
	var out []task
	for job := from; job < to; job++ {
		r := rand.New(rand.NewPCG(s.seed, uint64(job)))
		k := kinds[pick(r, len(kinds), func(i int) float64 { return kinds[i].weight })]
		k.car.Complaint = complaints[pick(r, len(complaints), func(i int) float64 { return complaints[i].w })].c
		t := task{job: job, kind: k.name, car: k.car}
		if s.wrong {
			t.distorted = 1 + r.IntN(distortions)
		}
		if !done[job] {
			out = append(out, t)
		}
	}
	slices.SortStableFunc(out, func(a, b task) int { return strings.Compare(a.key(), b.key()) })
	return out, nil
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
