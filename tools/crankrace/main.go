//go:build unix

// Command crankrace times the crank analysis against a vectorised numpy version
// of it on the same ten million edges, and the finding of teeth on the same
// minute of an analogue trace at 1 MHz, one processor each, in the same run.
//
//	go run ./tools/crankrace -python /usr/bin/python3
package main

import (
	_ "embed"
	"encoding/binary"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"

	"halforder/engine"
	"halforder/measure/crank"
	"halforder/tools/race"
)

//go:embed race.py
var script []byte

//go:embed trace.py
var traceScript []byte

func main() {
	python := flag.String("python", "python3", "python with numpy")
	count := flag.Int("edges", 10_000_000, "how many edges")
	rounds := flag.Int("rounds", 3, "how often")
	seconds := flag.Int("seconds", 60, "length of the trace")
	flag.Parse()
	runtime.GOMAXPROCS(1)
	dir, err := os.MkdirTemp("", "crankrace")
	check(err)
	defer os.RemoveAll(dir)
	fmt.Printf("%d edges decoded and weighed\n", *count)
	edges := run(*count)
	file := filepath.Join(dir, "edges")
	check(writeFile(file, edges))
	compete(*rounds, *python, script, file, func() result { return weigh(edges) })
	fmt.Printf("teeth in %d s of trace at %d Hz\n", *seconds, traceRate)
	trace := hall(edges, *seconds)
	file = filepath.Join(dir, "trace")
	check(writeFile(file, trace))
	compete(*rounds, *python, traceScript, file, func() result { return teeth(trace) })
}

// result is what one run found and the processor time it took.
type result struct {
	seconds    float64
	found, all int
}

// compete runs both in turn and prints the ratio of their times.
func compete(rounds int, python string, script []byte, file string, ours func() result) {
	var ratios []float64
	for range rounds {
		own := ours()
		last, err := race.Python(python, script, file)
		check(err)
		var their result
		_, err = fmt.Sscan(last, &their.seconds, &their.found, &their.all)
		check(err)
		ratios = append(ratios, their.seconds/own.seconds)
		fmt.Printf("  go %.3f s (%d found, %d weighed), numpy %.3f s (%d, %d): %.1f times as long\n",
			own.seconds, own.found, own.all, their.seconds, their.found, their.all, ratios[len(ratios)-1])
	}
	slices.Sort(ratios)
	fmt.Printf("  numpy takes %.1f times as long (middle of %d rounds)\n", ratios[len(ratios)/2], rounds)
}

// run makes the edges of a four-cylinder on a 60−2 wheel with 1 % misses.
func run(n int) []float64 {
	r := rand.New(rand.NewPCG(1, 1))
	out := make([]float64, 0, n)
	t, work, energy := 0.0, [4]float64{1, 1, 1, 1}, 1.0
	const degrees = 6.0
	for p := 0; len(out) < n; p++ {
		firing := (p*6 - 84 + 72000) % 720 / 180
		if (p*6-84+72000)%180 < 6 {
			work[firing] = 1 + 0.05*r.NormFloat64()
			if r.Float64() < 0.01 {
				work[firing] = 0
			}
		}
		x := float64((p*6 - 84 + 72000) % 180)
		energy += 0.03*(work[firing]*math.Exp(-(x-30)*(x-30)/800)*degrees/50-degrees/180) - 0.002*(energy-1)
		t += degrees / (6 * 2000 * math.Sqrt(energy))
		if p%60 < 58 {
			out = append(out, t+0.3e-6*r.NormFloat64())
		}
	}
	return out
}

const traceRate = 1_000_000

// hall is the signal of a Hall sensor past those teeth, with noise.
func hall(edges []float64, seconds int) []float32 {
	r := rand.New(rand.NewPCG(2, 2))
	out := make([]float32, seconds*traceRate)
	k := 0
	for i := range out {
		at := edges[0] + float64(i)/traceRate
		for edges[k+1] <= at {
			k++
		}
		if at-edges[k] < 2e-4 {
			out[i] = 5
		}
		out[i] += 0.05 * float32(r.NormFloat64())
	}
	return out
}

func writeFile[T float32 | float64](path string, v []T) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	return binary.Write(f, binary.LittleEndian, v)
}

// weigh is one analysis: misses found, firings weighed.
func weigh(edges []float64) result {
	layout, err := engine.Parse("i4")
	check(err)
	wheel, err := crank.ParseWheel("60-2")
	check(err)
	setup := crank.Setup{Layout: layout, Wheel: wheel, References: []crank.Reference{{Cylinder: 1, Deg: 84, Origin: crank.FromGap}}}
	before := race.Seconds()
	r, err := crank.Analyse(setup, crank.Recording{Crank: edges})
	check(err)
	return result{race.Seconds() - before, len(r.Misses), len(r.Firings)}
}

// teeth is one trace read: teeth found.
func teeth(trace []float32) result {
	before := race.Seconds()
	t, err := crank.NewTrace(traceRate)
	check(err)
	t.Push(trace)
	edges, _, err := t.Edges()
	check(err)
	return result{race.Seconds() - before, len(edges), 0}
}

func check(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "crankrace:", err)
		os.Exit(1)
	}
}
