package order

import (
	"math"
	"math/rand/v2"
	"testing"

	"halforder/finding"
)

// steps are what a phone feels in the pocket of somebody who walks or runs:
// harmonics of the steps, whose rate wanders.
func steps(hz, strength, rate float64, seed uint64) []Shake {
	rng := rand.New(rand.NewPCG(seed, 41))
	var along [14][3]float64
	for h := range along {
		along[h] = anyWay(rng)
	}
	var out []Shake
	phase := 0.0
	for t := 0.0; t < 20; t += (1 + 0.05*rng.NormFloat64()) / rate {
		phase = hz*t + 0.03*math.Sin(2*math.Pi*t/7)
		s := Shake{Seconds: t, Axes: [3]float64{0.3, 5, 8.3}}
		for h := 1; h < len(along); h++ {
			v := strength / math.Pow(float64(h), 0.7) * math.Cos(2*math.Pi*float64(h)*phase+float64(h*h))
			for a := range s.Axes {
				s.Axes[a] += v * along[h][a]
			}
		}
		for a := range s.Axes {
			s.Axes[a] += 0.2 * rng.NormFloat64()
		}
		out = append(out, s)
	}
	return out
}

// A walk has harmonics as an engine has; it accuses nobody.
func TestStepsAreNoEngine(t *testing.T) {
	for seed, hz := range []float64{1.7, 1.9, 2.1, 2.6, 2.9} {
		for _, rate := range []float64{60, 100, 200} {
			s := steps(hz, 2+hz, rate, uint64(seed))
			for _, layout := range []string{"i3", "i4", "v8-18436572"} {
				f, err := Feel(s, Config{Layout: parse(t, layout)})
				if err == nil && f.Verdict == finding.Misfire {
					t.Errorf("%g steps a second at %g Hz, %s: %s", hz, rate, layout, f.Sentence)
				}
			}
		}
	}
}
