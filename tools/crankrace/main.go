//go:build unix

// Command crankrace times the crank analysis against a vectorised numpy version
// of it on the same ten million edges, one processor each, in the same run.
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

	"halforder/engine"
	"halforder/measure/crank"
	"halforder/tools/race"
)

//go:embed race.py
var script []byte

func main() {
	python := flag.String("python", "python3", "python with numpy")
	count := flag.Int("edges", 10_000_000, "how many edges")
	rounds := flag.Int("rounds", 3, "how often")
	flag.Parse()
	runtime.GOMAXPROCS(1)
	dir, err := os.MkdirTemp("", "crankrace")
	check(err)
	defer os.RemoveAll(dir)
	edges := run(*count)
	check(writeFloats(filepath.Join(dir, "edges"), edges))
	for range *rounds {
		ours, missed, weighed := timed(edges)
		fmt.Printf("go:    %.2f s, %d misses in %d firings\n", ours, missed, weighed)
		last, err := race.Python(*python, script, filepath.Join(dir, "edges"))
		check(err)
		var theirs float64
		_, err = fmt.Sscan(last, &theirs, &missed, &weighed)
		check(err)
		fmt.Printf("numpy: %.2f s, %d misses in %d firings; %.1f times as long\n", theirs, missed, weighed, theirs/ours)
	}
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

func writeFloats(path string, v []float64) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	return binary.Write(f, binary.LittleEndian, v)
}

// timed is the processor time of one analysis.
func timed(edges []float64) (seconds float64, missed, weighed int) {
	layout, err := engine.Parse("i4")
	check(err)
	wheel, err := crank.ParseWheel("60-2")
	check(err)
	setup := crank.Setup{Layout: layout, Wheel: wheel, References: []crank.Reference{{Cylinder: 1, Deg: 84, Origin: crank.FromGap}}}
	before := race.Seconds()
	r, err := crank.Analyse(setup, crank.Recording{Crank: edges})
	check(err)
	return race.Seconds() - before, len(r.Misses), len(r.Firings)
}

func check(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "crankrace:", err)
		os.Exit(1)
	}
}
