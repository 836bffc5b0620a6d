package order

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"halforder/engine"
	"halforder/finding"
)

// labSynth is a plain simulated cut: damped resonances per firing.
func labSynth(layout engine.Layout, seed uint64, work []float64, cut int, from, to, end float64, bass bool) ([]float32, float64) {
	const rate = 22050.0
	rng := rand.New(rand.NewPCG(seed, 77))
	n := layout.N()
	type res struct{ f, tau, a, ph float64 }
	var rs []res
	for range 5 {
		rs = append(rs, res{40 * math.Pow(10, rng.Float64()), 0.004 + 0.012*rng.Float64(), 0.3 + rng.Float64(), 6.28 * rng.Float64()})
	}
	hiss := 0.0
	if !bass {
		hiss = 0.15 + 0.3*rng.Float64()
	}
	rest := 0.25 * rng.Float64()
	gains := make([]float64, n)
	for k := range gains {
		gains[k] = 1 + 0.04*rng.NormFloat64()
	}
	x := make([]float64, int(end*rate))
	rpm0 := 650 + 200*rng.Float64()
	sum := 0.0
	for _, w := range work {
		sum += w
	}
	lost := work[cut] / sum
	dip, stay := 0.5*lost*(0.8+0.4*rng.Float64()), 0.15*lost
	angles := layout.Angles()
	at := 0.03
	wander := 0.0
	for at < end-0.3 {
		var length float64
		for k := range n {
			on := at >= from && at < to
			u := at - from
			speed := rpm0 * (1 + wander)
			g := 1.0
			if on {
				speed *= 1 - dip*(1-math.Exp(-u/0.15))*math.Exp(-u/0.5) - stay*(1-math.Exp(-u/0.3))
				g = 1 + lost/(1-lost)*(1-math.Exp(-u/0.5))
			} else if at >= to {
				u = at - to
				speed *= 1 + 0.5*dip*(1-math.Exp(-u/0.15))*math.Exp(-u/0.5)
				g = 1 + lost/(1-lost)*math.Exp(-u/0.5)
			}
			wander += 0.002*rng.NormFloat64() - 0.02*wander
			w := work[k] * g
			if on && k == cut {
				w = 0
			}
			w = (rest + (1-rest)*w) * gains[k] * (1 + 0.06*rng.NormFloat64())
			i0 := int(at * rate)
			for i := range int(0.08 * rate) {
				if i0+i >= len(x) {
					break
				}
				t := float64(i) / rate
				v := 0.0
				for _, r := range rs {
					v += r.a * math.Exp(-t/r.tau) * math.Sin(2*math.Pi*r.f*t+r.ph)
				}
				v += hiss * 3 * math.Exp(-t/0.006) * rng.NormFloat64()
				x[i0+i] += w * v
			}
			step := float64(layout.Interval(k)) / 720 * 120 / speed
			at += step
			length += step
		}
		_ = angles
	}
	p := 0.0
	for _, v := range x {
		p += v * v
	}
	p = math.Sqrt(p / float64(len(x)))
	out := make([]float32, len(x))
	snr := 0.2 + 0.3*rng.Float64()
	lp := 0.0
	for i, v := range x {
		lp += 0.1 * (rng.NormFloat64() - lp)
		out[i] = float32(0.1 * (v/p + snr*(0.3*rng.NormFloat64()+3*lp)))
	}
	return out, rate
}

type labCount struct{ right, open, wrong, stall int }

func TestLabNames(t *testing.T) {
	var seeds, from int
	fmt.Sscan(labEnv("SEEDS", "5"), &seeds)
	fmt.Sscan(labEnv("FROM", "0"), &from)
	labSee = os.Getenv("SEE") != ""
	verbose := os.Getenv("V") != ""
	kinds := strings.Split(labEnv("KIND", "one,two,weak"), ",")
	for _, source := range strings.Split(labEnv("SRC", "engine,synth,bass"), ",") {
		for _, name := range strings.Split(labEnv("ENG", "i4,i5,i6,v8-18436572"), ",") {
			for _, kind := range kinds {
				var n labCount
				var spent time.Duration
				for seed := from; seed < from+seeds; seed++ {
					r := labOne(source, name, kind, seed, &spent)
					switch r[0] {
					case 'R':
						n.right++
					case 'O':
						n.open++
					case 'W':
						n.wrong++
					default:
						n.stall++
					}
					if verbose && r[0] != 'R' {
						fmt.Println("   ", source, name, kind, seed, r)
					}
				}
				fmt.Printf("%-8s %-14s %-5s right %d open %d wrong %d stalled %d  (%v each)\n", source, name, kind, n.right, n.open, n.wrong, n.stall, (spent / time.Duration(seeds)).Round(time.Millisecond))
			}
		}
	}
}

func labOne(source, name, kind string, seed int, spent *time.Duration) string {
	layout, _ := engine.Parse(name)
	n := layout.N()
	rng := rand.New(rand.NewPCG(uint64(seed), 5))
	bad := []int{rng.IntN(n)} // positions
	if kind == "two" {
		for {
			if b := rng.IntN(n); b != bad[0] && 2*(n-2) >= n {
				bad = append(bad, b)
				break
			}
		}
	}
	cut := rng.IntN(n)
	for slices.Contains(bad, cut) {
		cut = rng.IntN(n)
	}
	from, to := 11.0, 17.0
	var x []float32
	var hz float64
	if source == "synth" || source == "bass" {
		work := workOf(finding.AllWork(n))
		for _, b := range bad {
			work[b] = map[string]float64{"one": 0, "two": 0, "weak": 0.6}[kind]
		}
		x, hz = labSynth(layout, uint64(seed), work, cut, from, to, to+1, source == "bass")
	} else {
		var faults []string
		for _, b := range bad {
			f := "coil-open@%d"
			if kind == "weak" {
				f = []string{"injector-clogged@%d:0.25", "exhaust-valve-leak@%d:0.3"}[seed%2]
			}
			faults = append(faults, fmt.Sprintf(f, layout.At(b)))
		}
		c, err := render(name, uint64(seed+1), faults, int(layout.At(cut)), labPlaces[source], fmt.Sprintf("%s-%s-%s-%d-%v-%d", source, name, kind, seed, bad, cut), from, to)
		if err != nil {
			return "S " + err.Error()
		}
		if c.T[len(c.T)-1] < from+2 {
			return "S stalled"
		}
		x, hz = c.X, c.Hz
	}
	t0 := time.Now()
	f, err := Analyse(&slice{x}, hz, Config{Layout: layout, Cuts: []Cut{{layout.At(cut), from, to}}})
	*spent += time.Since(t0)
	if err != nil {
		return "O " + err.Error()
	}
	named := Named(f, layout)
	info := fmt.Sprintf("bad %v cut %d named %v %s ", bad, cut, named, f.Verdict)
	if f.Likelihood != nil && !f.Likelihood.Anonymous {
		log := map[string]float64{}
		for p, v := range f.Likelihood.Log {
			log[string(p)] = v
		}
		info += labTop(log, 4)
	} else {
		info += fmt.Sprint(f.Notes)
	}
	if f.Likelihood != nil && !f.Likelihood.Anonymous {
		for _, s := range suspicions(f.Likelihood, layout) {
			info += fmt.Sprintf(" %d:%.2f", layout.Position(s.cylinder), s.dead+s.weak)
		}
	}
	right := 0
	for _, c := range named {
		if !slices.Contains(bad, layout.Position(c)) {
			return "W " + info
		}
		right++
	}
	if right == len(bad) {
		return "R " + info
	}
	return "O " + info
}
