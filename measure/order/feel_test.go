package order

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
)

// The fit finds the harmonics of a signal that has no others, whatever the
// times of the samples.
func TestFitFindsHarmonicsAtAnyTimes(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	const hz, rate, top = 6.2, 60.0, 4
	want := []complex128{0.2 + 0.1i, -0.4i, 0.05, 1 - 0.3i}
	f := newFitter(top)
	for at := 0.0; at < 3/hz; at += (0.4 + 1.2*rng.Float64()) / rate {
		var x float64
		for h, c := range want {
			x += 2 * real(c*cmplx.Rect(1, 2*math.Pi*float64(h+1)*hz*at))
		}
		f.add(hz*at, [3]float64{x + 9.81, 2 * x, -x})
	}
	got, ok := f.solve()
	if !ok {
		t.Fatal("no solution")
	}
	for h, c := range want {
		for a, scale := range []complex128{1, 2, -1} { // the ridge shrinks by some 1 %, gravity leaks as much
			if off := cmplx.Abs(got[a][h] - scale*c); off > 0.03*cmplx.Abs(scale) && a > 0 || off > 0.15 {
				t.Errorf("axis %d harmonic %d: %v, want %v", a, h+1, got[a][h], scale*c)
			}
		}
	}
	f.reset()
	for range 100 {
		f.add(0.25, [3]float64{1, 2, 3})
	}
	if _, ok := f.solve(); ok {
		got, _ := f.solve()
		for _, v := range got[0] {
			if cmplx.IsNaN(v) || cmplx.IsInf(v) {
				t.Error("samples at one phase give", v)
			}
		}
	}
}

// Mounts, directions, unbalance and noise of any usual kind: what is in reach is
// told, and nothing is told wrongly.
func TestFeelOnAnyMounts(t *testing.T) {
	right, all := 0, 0
	for _, c := range []struct {
		name string
		hz   float64
	}{{"i3", 100}, {"i4", 60}, {"i4", 200}, {"i5", 200}, {"i6", 60}, {"i6", 400}, {"v8-18436572", 100}, {"v8-18436572", 400}} {
		layout := parse(t, c.name)
		for seed := range uint64(2) {
			for _, dead := range []bool{false, true} {
				m := anyMounted(layout, c.hz, 20+seed)
				want := finding.NoMisfire
				if dead {
					m.work[int(seed)%layout.N()] = 0
					want = finding.Misfire
				}
				f, err := Feel(m.shakes(), Config{Layout: layout})
				what := fmt.Sprintf("%s at %g Hz, seed %d, dead %v", c.name, c.hz, seed, dead)
				var none *NoEngineError
				if err != nil && !errors.As(err, &none) {
					t.Errorf("%s: %v", what, err)
				}
				if err == nil && f.Verdict != want && f.Verdict != finding.CannotTell {
					t.Errorf("%s: %s %v", what, f.Sentence, f.Quantities)
				}
				if c.hz >= 200 {
					all++
					if err == nil && f.Verdict == want {
						right++
					}
				}
			}
		}
	}
	if right < all*4/5 {
		t.Errorf("%d of %d right where all orders are in reach", right, all)
	}
}

// How the sensor lies, its unit, its zero of time and the order of the lines
// change nothing.
func TestFeelLaws(t *testing.T) {
	layout := parse(t, "i4")
	m := anyMounted(layout, 100, 5)
	m.work[2] = 0
	plain := m.shakes()
	config := Config{Layout: layout}
	want, err := Feel(plain, config)
	if err != nil || want.Verdict != finding.Misfire {
		t.Fatal(want.Sentence, err)
	}
	c, s := math.Cos(1), math.Sin(1)
	for name, change := range map[string]func(*Shake){
		"turned": func(x *Shake) { a := x.Axes; x.Axes = [3]float64{c*a[0] - s*a[1], a[2], s*a[0] + c*a[1]} },
		"in g": func(x *Shake) {
			for i := range x.Axes {
				x.Axes[i] /= 9.81
			}
		},
		"flipped": func(x *Shake) { x.Axes[0] = -x.Axes[0] },
		"later":   func(x *Shake) { x.Seconds += 4096 },
	} {
		changed := append([]Shake(nil), plain...)
		for i := range changed {
			change(&changed[i])
		}
		got, err := Feel(changed, config)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for _, q := range []string{SpeedQuantity, ChanceQuantity, MissingQuantity} {
			a, _ := want.Quantity(q)
			b, _ := got.Quantity(q)
			if math.Abs(a.Value-b.Value) > 0.01*math.Abs(a.Value) {
				t.Errorf("%s: %s is %g, want %g", name, q, b.Value, a.Value)
			}
		}
	}
}

// Doubled lines, disorder, gaps and a sensor asked more often than it measures
// leave the verdict as it is, and are mentioned.
func TestFeelTakesUntidyTimes(t *testing.T) {
	layout := parse(t, "i4")
	rng := rand.New(rand.NewPCG(3, 4))
	m := anyMounted(layout, 100, 5)
	m.work[2] = 0
	m.seconds = 24
	shakes := m.shakes()
	shakes = append(shakes[:len(shakes)/4], shakes[len(shakes)/4+200:]...)
	for i := 0; i < len(shakes); i += 5 {
		again := shakes[i]
		again.Seconds += 0.002
		shakes = append(shakes, again, shakes[i])
	}
	rng.Shuffle(len(shakes), func(a, b int) { shakes[a], shakes[b] = shakes[b], shakes[a] })
	f, err := Feel(shakes, Config{Layout: layout})
	if err != nil {
		t.Fatal(err)
	}
	notes := strings.Join(f.Notes, " ")
	if f.Verdict != finding.Misfire || !strings.Contains(notes, "gap") || !strings.Contains(notes, "came twice") {
		t.Errorf("%s %q", f.Sentence, f.Notes)
	}
}

// Idle that wanders by ±15 % in five seconds is followed; at 100 samples a second
// by half of that.
func TestFeelFollowsTheSpeed(t *testing.T) {
	for hz, wander := range map[float64]float64{100: 0.08, 200: 0.15} {
		m := anyMounted(parse(t, "i4"), hz, 9)
		m.rpm, m.wander, m.seconds = 800, wander, 20
		m.work[0] = 0
		f, err := Feel(m.shakes(), Config{Layout: m.layout})
		if err != nil {
			t.Fatal(err)
		}
		if q, _ := f.Quantity(SpeedQuantity); math.Abs(q.Value/800-1) > 0.015 {
			t.Errorf("%g Hz: speed %v, want 800 rpm within 1.5 %% (cycles, not seconds, are averaged)", hz, q)
		}
	}
}

// A cut of a known cylinder names the dead one by motion alone.
func TestFeelNamesByACut(t *testing.T) {
	named := 0
	for seed := range uint64(4) {
		m := anyMounted(parse(t, "i4"), 200, 30+seed)
		m.seconds, m.wander, m.work[1] = 22, 0, 0
		m.off = func(s float64, k int) bool { return k == 3 && s > 12 && s < 18 }
		f, err := Feel(m.shakes(), Config{Layout: m.layout, Cuts: []Cut{{m.layout.At(3), 12, 18}}})
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		got := Named(f, m.layout)
		if len(got) == 1 && got[0] == m.layout.At(1) {
			named++
		} else if len(got) > 0 {
			t.Errorf("seed %d: named %v, want %d: %s", seed, got, m.layout.At(1), f.Sentence)
		}
	}
	if named < 3 {
		t.Errorf("named %d of 4", named)
	}
}

// trembling is a sensor without an engine.
func trembling(kind string, hz float64, seed uint64) []Shake {
	rng := rand.New(rand.NewPCG(seed, 5))
	var out []Shake
	var walk [3]float64
	hit := 0.0
	for t := 0.0; t < 12; t += 1 / hz * (1 + 0.1*rng.NormFloat64()) {
		s := Shake{Seconds: t}
		for i := range s.Axes {
			walk[i] = 0.98*walk[i] + 0.1*rng.NormFloat64()
			s.Axes[i] = 0.05 * rng.NormFloat64()
			switch kind {
			case "held in a hand":
				s.Axes[i] += walk[i]
			case "steps and knocks":
				s.Axes[i] += hit * rng.NormFloat64()
			}
		}
		if hit *= 0.8; rng.Float64() < 2/hz {
			hit = 1
		}
		out = append(out, s)
	}
	return out
}

func TestFeelWithoutAnEngineAccusesNobody(t *testing.T) {
	for _, kind := range []string{"on a bench", "held in a hand", "steps and knocks"} {
		for _, hz := range []float64{60, 100, 400} {
			for seed := range uint64(2) {
				f, err := Feel(trembling(kind, hz, seed), Config{Layout: parse(t, "i4")})
				var none *NoEngineError
				if !errors.As(err, &none) {
					t.Errorf("%s at %g Hz: %v %s", kind, hz, err, f.Sentence)
				}
			}
		}
	}
}

func TestFeelRefusesNonsense(t *testing.T) {
	i4 := Config{Layout: parse(t, "i4")}
	still := make([]Shake, 1000)
	for i := range still {
		still[i] = Shake{Seconds: float64(i) / 100, Axes: [3]float64{0, 0, 9.81}}
	}
	for name, c := range map[string]struct {
		shakes []Shake
		config Config
		want   string
	}{
		"nothing":   {nil, i4, "no motion given"},
		"one":       {[]Shake{{}}, i4, "too short"},
		"NaN":       {[]Shake{{Seconds: 1}, {Seconds: math.NaN()}}, i4, "no numbers"},
		"short":     {trembling("", 100, 1)[:150], i4, "too short"},
		"slow":      {trembling("", 8, 1), i4, "8 samples a second"},
		"still":     {still, i4, "same values"},
		"no engine": {still, Config{}, "no engine given"},
		"wrong cut": {still, Config{Layout: i4.Layout, Cuts: []Cut{{engine.Cylinder(9), 1, 2}}}, "cylinder 9"},
	} {
		if _, err := Feel(c.shakes, c.config); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

// Without the firing order in reach, it is said, and what to do.
func TestFeelSaysWhatIsOutOfReach(t *testing.T) {
	m := anyMounted(parse(t, "i6"), 60, 23)
	m.rpm, m.unbalance[0] = 750, 0.5
	f, err := Feel(m.shakes(), Config{Layout: m.layout, Speed: 750})
	var none *NoEngineError
	if errors.As(err, &none) {
		t.Skip("too little in reach to feel an engine")
	}
	if err != nil || f.Verdict != finding.CannotTell || !strings.Contains(f.Sentence, "out of reach of 6") || !strings.Contains(strings.Join(f.Notes, " "), "orders above") {
		t.Errorf("%v %s %q", err, f.Sentence, f.Notes)
	}
}
