package cutout

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"halforder/engine"
)

// shaken is what a crank or a sound shows of an engine whose cylinders do the
// given work, each firing leaving the same in the cycle: looks half a cycle apart,
// at 6 cycles a second. The load stays: during a cut the others do more.
type shaken struct {
	layout   engine.Layout
	strength []float64 // by cylinder − 1
	waking   float64   // what cylinder 1 gains by itself while another is cut
	slipAt   float64   // s, from when on the phase is a firing off; 0: never
}

func (s shaken) cycles(cuts []Cut, seed uint64) (c Cycles) {
	rng := rand.New(rand.NewPCG(seed, 7))
	n := s.layout.N()
	c.Harmonics = 2 * n
	for t := 0.0; t < cuts[len(cuts)-1].End+12; t += 1 / 12.0 {
		work := make([]float64, n)
		for j := range work {
			work[j] = s.strength[s.layout.At(j)-1] * (1 + 0.08*rng.NormFloat64())
		}
		for _, k := range cuts {
			if t > k.Start && t < k.End {
				s.cut(work, k.Cylinders[0])
			}
		}
		var x []float64
		for h := 1; h <= c.Harmonics; h++ {
			z := s.layout.Phasor(h, work) * cmplx.Rect(3/float64(h), 0.4*float64(h*h))
			if s.slipAt > 0 && t > s.slipAt {
				z *= cmplx.Rect(1, 2*math.Pi*float64(h)/float64(n))
			}
			x = append(x, real(z), imag(z))
		}
		c.T, c.X = append(c.T, t), append(c.X, x)
	}
	return c
}

// cut takes a cylinder away and lets the rest carry the load.
func (s shaken) cut(work []float64, c engine.Cylinder) {
	own := s.layout.Position(c)
	lost, rest := work[own], 0.0
	work[own] = 0
	if first := s.layout.Position(1); first != own {
		work[first] += s.waking
		lost -= s.waking
	}
	for _, w := range work {
		rest += w
	}
	for j := range work {
		work[j] *= 1 + lost/rest
	}
}

func forthAndBack(l engine.Layout) (cuts []Cut) {
	n := l.N()
	for i := range 2 * n {
		at := 10 + 14*float64(i)
		cuts = append(cuts, Cut{Start: at, End: at + 4, Cylinders: []engine.Cylinder{engine.Cylinder(min(i, 2*n-1-i) + 1)}})
	}
	return cuts
}

// The balance of work is exact here: every loss must come out as what the cylinder
// did, whatever else is wrong with the engine.
func TestFiringsThatWereLost(t *testing.T) {
	for name, strength := range map[string][]float64{
		"healthy four":  {1, 1, 1, 1},
		"weak in three": {1, 0.5, 1},
		"weak in five":  {1, 1, 0.6, 1, 1},
		"two of six":    {0.4, 1, 1, 1, 0, 1},
		"v8":            {1, 1, 1, 0, 1, 1, 1, 0.7},
	} {
		l, err := engine.Parse(map[int]string{3: "i3", 4: "i4", 5: "i5", 6: "i6", 8: "v8-18436572"}[len(strength)])
		if err != nil {
			t.Fatal(err)
		}
		waking := 0.0
		if strength[0] < 0.85 {
			waking = 0.3
		}
		cuts := forthAndBack(l)
		shaken{layout: l, strength: strength, waking: waking}.cycles(cuts, 3).firings(l, cuts).measure(cuts)
		for i, c := range cuts {
			want := strength[c.Cylinders[0]-1]
			switch {
			case c.Loss == nil:
				t.Errorf("%s: cut %d was not measured", name, i+1)
			case math.Abs(c.Loss.Value-want) > 0.1:
				t.Errorf("%s: cut %d of cylinder %d lost %.2f, did %.2f", name, i+1, c.Cylinders[0], c.Loss.Value, want)
			}
		}
	}
}

// On one cylinder of three an engine does not go as before: such cuts are not
// measured.
func TestFiringsOfTooFew(t *testing.T) {
	l, _ := engine.Parse("i3")
	cuts := forthAndBack(l)
	shaken{layout: l, strength: []float64{1, 0, 1}}.cycles(cuts, 5).firings(l, cuts).measure(cuts)
	for i, c := range cuts {
		if dead := c.Cylinders[0] == 2; dead != (c.Loss != nil) {
			t.Errorf("cut %d of cylinder %d: measured %v", i+1, c.Cylinders[0], c.Loss)
		}
	}
}

// A phase that slips by a firing must not make the next cylinder out of one: what
// was cut from then on is not measured, and above all not called dead.
func TestSlippedFiringsAccuseNobody(t *testing.T) {
	l, _ := engine.Parse("i5")
	cuts := forthAndBack(l)
	shaken{layout: l, strength: []float64{1, 1, 1, 1, 1}, slipAt: cuts[6].End + 5}.cycles(cuts, 4).firings(l, cuts).measure(cuts)
	for i, c := range cuts {
		if c.Loss != nil && c.Loss.Value < 0.8 {
			t.Errorf("cut %d: lost %.2f of a healthy cylinder", i+1, c.Loss.Value)
		}
		if c.Loss == nil && i < 7 {
			t.Errorf("cut %d: before the slip, but not measured", i+1)
		}
	}
}

// A crankshaft under even firings but for one that lacks: ½Jω² falls behind by its
// work (textbook), whatever the spacing of the marks.
func TestCyclesFromUnevenMarks(t *testing.T) {
	const marks, cylinders = 30, 4
	angle := make([]float64, marks) // turns; three marks are missing before the first
	for i := range angle {
		angle[i] = float64(i) / (marks + 3)
	}
	var edges [2][]float64
	for lacking := range edges {
		speed2, now, last := 160.0, 0.0, 0.0
		for turn := range 80 {
			for _, a := range angle {
				at := float64(turn) + a
				for last < at {
					firing := int(last*2) % cylinders
					pulse := -math.Cos(4 * math.Pi * last) // one a firing
					if firing == 2 && lacking == 1 {
						pulse -= 1
					} else if lacking == 1 {
						pulse += 1.0 / 3
					}
					speed2 += 20 * pulse / 1000
					now += 1.0 / 1000 / math.Sqrt(speed2)
					last += 1.0 / 1000
				}
				edges[lacking] = append(edges[lacking], now)
			}
		}
	}
	even, odd := cyclesFromMarks(edges[0], marks, cylinders), cyclesFromMarks(edges[1], marks, cylinders)
	size := func(c Cycles, h int) float64 {
		m := meanLook(c.X, c.Harmonics)
		return cmplx.Abs(m[h-1])
	}
	if size(even, 1) > 0.1*size(odd, 1) {
		t.Errorf("half order %.3g of an even engine, %.3g of one with a firing that lacks", size(even, 1), size(odd, 1))
	}
	// Work that lacks over a quarter of the cycle: harmonic h of its integral goes as
	// sin(πh/4)/h². Whole orders cannot be told from the spacing of the marks.
	if got := size(odd, 1) / size(odd, 3); math.Abs(got/9-1) > 0.1 {
		t.Errorf("half order %.3g times order 1.5, want 9", got)
	}
}
