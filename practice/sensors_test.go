package practice

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"halforder/engine"
)

func record(t testing.TB, c Config, seconds float64, want Sensors) (Recording, Truth) {
	t.Helper()
	rec, truth, err := Run(c, Watch(seconds), want)
	if err != nil {
		t.Fatal(err)
	}
	return rec, truth
}

func TestToothedWheel(t *testing.T) {
	rec, truth := record(t, testConfig(t, "i4"), 20, Sensors{Crank: true, Cam: true})
	mean := meanOf(truth, 0, 20, func(f Firing) float64 { return f.RPM })
	near(t, "edges a turn", float64(len(rec.Crank))/(mean/60*20), 58, 0.6)
	gaps := 0
	for i := 2; i < len(rec.Crank); i++ {
		if ratio := (rec.Crank[i] - rec.Crank[i-1]) / (rec.Crank[i-1] - rec.Crank[i-2]); ratio > 2.3 && ratio < 4 {
			gaps++
		}
	}
	near(t, "gaps a turn", float64(gaps)/(mean/60*20), 1, 0.02)
	near(t, "cam edges a cycle", float64(len(rec.Cam))/(mean/120*20), 1, 0.02)
	// The cam edge stands 300° after firing top dead centre of cylinder 1.
	for _, f := range truth.Firings {
		if f.Cylinder != 1 || f.T < 1 {
			continue
		}
		i := slices.IndexFunc(rec.Cam, func(at float64) bool { return at > f.T })
		if i >= 0 {
			near(t, "cam edge after top dead centre in degrees", (rec.Cam[i]-f.T)*6*mean, 300, 15)
			break
		}
	}
}

// Spacing error repeats every turn: averaged over turns it stands out of the
// jitter, and half a wheel's worth of it is what was asked for.
func TestSpacingErrorRepeats(t *testing.T) {
	c := testConfig(t, "i4")
	c.Wheel.SpacingDeg, c.Wheel.JitterSeconds = 0.3, 0
	angles := c.Wheel.angles(newDice(c.Seed, "wheel"))
	var sum float64
	for i, a := range angles {
		d := a - math.Mod(84+6*float64(i), 360)
		d = math.Remainder(d, 6)
		sum += d * d
	}
	near(t, "spacing deviation in degrees", math.Sqrt(sum/float64(len(angles))), 0.3, 0.09)
}

func TestFewMarksWheel(t *testing.T) {
	c := testConfig(t, "i4")
	c.Wheel = Wheel{Marks: []engine.CrankDeg{10, 80, 190, 260}}
	rec, truth := record(t, c, 10, Sensors{Crank: true})
	mean := meanOf(truth, 0, 10, func(f Firing) float64 { return f.RPM })
	near(t, "edges a turn", float64(len(rec.Crank))/(mean/60*10), 4, 0.1)
}

// The phone feels the half orders of a dead cylinder and little of them in a
// healthy engine; gravity stays; stamps jitter.
func TestPhoneFeelsADeadCylinder(t *testing.T) {
	for _, hz := range []float64{60, 200} {
		half := func(faults ...string) float64 {
			rec, truth := record(t, testConfig(t, "i4", faults...), 20, Sensors{Phone: &PhoneSensor{Hz: hz}})
			near(t, "samples", float64(len(rec.Phone))/20, hz, 0.05*hz)
			var x, y, z float64
			for _, s := range rec.Phone {
				x, y, z = x+s.X, y+s.Y, z+s.Z
			}
			near(t, "gravity", math.Sqrt(x*x+y*y+z*z)/float64(len(rec.Phone)), 9.81, 0.4)
			return phoneLine(rec.Phone, meanOf(truth, 0, 20, func(f Firing) float64 { return f.RPM })/120)
		}
		healthy, dead := half(), half("injector-dead@3")
		t.Logf("%g Hz: half order %.3f m/s² healthy, %.3f with a dead cylinder", hz, healthy, dead)
		if dead < 5*healthy {
			t.Errorf("%g Hz: half order %.3f against %.3f m/s²", hz, dead, healthy)
		}
	}
}

// phoneLine is the largest amplitude within ±12 % of a frequency, in the
// strongest axis.
func phoneLine(shakes []Shake, hz float64) (best float64) {
	for f := 0.88 * hz; f < 1.12*hz; f += 0.02 {
		var x, y, z complex128
		for _, s := range shakes {
			turn := cmplx.Rect(2/float64(len(shakes)), -2*math.Pi*f*s.T)
			x, y, z = x+complex(s.X, 0)*turn, y+complex(s.Y, 0)*turn, z+complex(s.Z, 0)*turn
		}
		best = max(best, cmplx.Abs(x), cmplx.Abs(y), cmplx.Abs(z))
	}
	return best
}

// An engine whose only trouble is unbalance shakes at order 1, not at half
// orders: it is no misfire.
func TestShakeIsNoMisfire(t *testing.T) {
	want := Sensors{Phone: &PhoneSensor{Hz: 200, Level: true}}
	line := func(order float64, faults ...string) float64 {
		rec, truth := record(t, testConfig(t, "i4", faults...), 20, want)
		return phoneLine(rec.Phone, order*meanOf(truth, 0, 20, func(f Firing) float64 { return f.RPM })/60)
	}
	if calm, shaken := line(1), line(1, "shake"); shaken < 3*calm {
		t.Errorf("order 1: %.3f against %.3f m/s²", shaken, calm)
	}
	if calm, shaken := line(0.5), line(0.5, "shake"); shaken > 1.5*calm {
		t.Errorf("half order: %.3f against %.3f m/s²", shaken, calm)
	}
}

func TestSound(t *testing.T) {
	for _, hz := range []float64{16000, 44100, 48000} {
		for _, place := range []Place{OverEngine, AtTailpipe} {
			rec, _ := record(t, testConfig(t, "i4"), 4, Sensors{Sound: &SoundSensor{Hz: hz, Place: place}})
			near(t, "samples", float64(len(rec.Sound.X)), 4*hz, 20)
			level, top := loudness(rec.Sound.X)
			if level < 0.01 || level > 0.3 || top > 1 {
				t.Errorf("%g Hz %s: RMS %.3f, peak %.2f of full scale", hz, place, level, top)
			}
			for _, x := range rec.Sound.X {
				if x*32768 != float32(math.Trunc(float64(x*32768))) {
					t.Fatal("samples are not 16-bit")
				}
			}
		}
	}
	// The upper band swells and fades with the firings: a dead cylinder leaves a
	// half order in the envelope.
	half := func(faults ...string) float64 {
		c := testConfig(t, "i4", faults...)
		rec, truth := record(t, c, 12, Sensors{Sound: &SoundSensor{Hz: 16000}})
		return envelopeLine(rec.Sound, meanOf(truth, 0, 12, func(f Firing) float64 { return f.RPM })/120)
	}
	healthy, dead := half(), half("injector-dead@3")
	t.Logf("half order of the envelope: %.4f healthy, %.4f dead", healthy, dead)
	if dead < 3*healthy {
		t.Errorf("half order of the envelope %.4f against %.4f", dead, healthy)
	}
}

func loudness(x []float32) (rms, top float64) {
	for _, v := range x {
		rms += float64(v) * float64(v) / float64(len(x))
		top = max(top, math.Abs(float64(v)))
	}
	return math.Sqrt(rms), top
}

func envelopeLine(t Trace, hz float64) (best float64) {
	high := highPass(800, 0.7, t.Hz)
	for i, x := range t.X {
		t.X[i] = float32(high.pass(float64(x)))
	}
	for f := 0.9 * hz; f < 1.1*hz; f += 0.03 {
		var sum complex128
		for i, x := range t.X {
			sum += complex(math.Abs(float64(x)), 0) * cmplx.Rect(2/float64(len(t.X)), -2*math.Pi*f*float64(i)/t.Hz)
		}
		best = max(best, cmplx.Abs(sum))
	}
	return best
}

// Gain control brings a far engine up.
func TestGainControl(t *testing.T) {
	quiet := SoundSensor{Hz: 16000, Balance: 0.02, Noise: -1}
	level := func(gain bool) float64 {
		want := quiet
		want.Gain = gain
		rec, _ := record(t, testConfig(t, "i4"), 8, Sensors{Sound: &want})
		rms, _ := loudness(rec.Sound.X[6*16000:])
		return rms
	}
	off, on := level(false), level(true)
	if math.Abs(20*math.Log10(on/off)) < 1 {
		t.Errorf("gain control changes %.3f to %.3f RMS only", off, on)
	}
}

// The current ramp is V/R(1 − e^(−tR/L)) up to the driver's limit; an unplugged
// coil draws none; a shorted one rises steeply.
func TestCoilTrace(t *testing.T) {
	peak := func(faults ...string) (amps, steepest float64) {
		rec, _ := record(t, testConfig(t, "i4", faults...), 3, Sensors{Coil: &CoilSensor{Hz: 50e3, Cylinders: []engine.Cylinder{2}}})
		for i, x := range rec.CoilAmps.X {
			amps = max(amps, float64(x))
			if i >= 10 && x < 6 {
				steepest = max(steepest, float64(x-rec.CoilAmps.X[i-10])*50e3/10)
			}
		}
		return amps, steepest
	}
	amps, slope := peak()
	near(t, "peak in A", amps, coilLimitA, 0.4)
	near(t, "first slope in A/s", slope, (14.1-driverDropV)/coilHenry, 700) // V/L at the beginning
	if none, _ := peak("coil-open@2"); none > 0.6 {
		t.Errorf("an open coil draws %.2f A", none)
	}
	if _, steep := peak("coil-shorted@2:0.8"); steep < 1.8*slope {
		t.Errorf("shorted turns rise with %.0f A/s against %.0f", steep, slope)
	}
}

// Primary voltage: kick of 200–400 V, more than 500 V when nothing jumps but
// the coil is strong (trade practice).
func TestPrimaryKick(t *testing.T) {
	kick := func(faults ...string) (top float64) {
		rec, _ := record(t, testConfig(t, "i4", faults...), 3, Sensors{Coil: &CoilSensor{Hz: 200e3, Cylinders: []engine.Cylinder{2}}})
		for _, x := range rec.CoilVolts.X {
			top = max(top, float64(x))
		}
		return top
	}
	if v := kick(); v < 200 || v > 400 {
		t.Errorf("kick of a healthy coil %.0f V", v)
	}
}

// Starter current: 130–190 A peaks on a middling four; a leaking cylinder
// leaves a lower peak (trade practice: 180 against 130 A).
func TestStarterCurrent(t *testing.T) {
	peaks := func(faults ...string) []float64 {
		c := testConfig(t, "i4", faults...)
		c.Running = false
		script, err := ParseScript("0 pedal 100\n0.5 crank 4\n5 end")
		if err != nil {
			t.Fatal(err)
		}
		rec, truth, err := Run(c, script, Sensors{Starter: &Sampling{Hz: 2000}})
		if err != nil {
			t.Fatal(err)
		}
		by := make([]float64, 4)
		for _, f := range truth.Firings {
			if f.T < 2 || f.T > 4.3 {
				continue
			}
			top := 0.0
			for i := int((f.T - 0.08) * 2000); i < int((f.T+0.01)*2000); i++ {
				top = max(top, float64(rec.StarterAmps.X[i]))
			}
			by[f.Cylinder-1] = max(by[f.Cylinder-1], top)
		}
		return by
	}
	healthy, sick := peaks(), peaks("exhaust-valve-leak@3:0.6")
	t.Logf("peaks %.0f healthy, %.0f with a leak at 3", healthy, sick)
	if slices.Min(healthy) < 120 || slices.Max(healthy) > 240 || slices.Min(healthy) < 0.9*slices.Max(healthy) {
		t.Errorf("healthy peaks %.0f A", healthy)
	}
	if sick[2] > 0.9*sick[0] {
		t.Errorf("leak at 3 does not show: %.0f A", sick)
	}
}

func TestPressureTrace(t *testing.T) {
	rec, truth := record(t, testConfig(t, "i4"), 5, Sensors{Pressure: &Indicator{Cylinder: 3, Hz: 20e3}})
	top, want := 0.0, 0.0
	for _, x := range rec.Pressure.X {
		top = max(top, float64(x))
	}
	for _, f := range truth.Firings {
		if f.Cylinder == 3 {
			want = max(want, f.PeakBar)
		}
	}
	near(t, "peak in bar", top, want, 0.5)
}

// Values keep the resolution of the open standard's bytes and come at the
// asked rate.
func TestBusValues(t *testing.T) {
	rec, _ := record(t, testConfig(t, "i4"), 20, Sensors{Bus: &BusSensor{PerSecond: 10}})
	near(t, "answers", float64(len(rec.Bus)), 200, 3)
	for _, v := range rec.Bus {
		if v.Name == "rpm" && v.Value*4 != math.Trunc(v.Value*4) {
			t.Errorf("rpm %g is no quarter", v.Value)
		}
		if math.IsNaN(v.Value) || v.Name == "lambda_2" {
			t.Errorf("a four with one bank answers %+v", v)
		}
	}
}

// Sensors never touch the engine: the truth is the same with all and none.
func TestSensorsDoNotDisturb(t *testing.T) {
	c := testConfig(t, "v6-142536", "coil-weak@2:0.95,random=0.4")
	_, bare := record(t, c, 4, Sensors{})
	_, full := record(t, c, 4, Everything())
	if len(bare.Firings) != len(full.Firings) {
		t.Fatalf("%d firings against %d", len(bare.Firings), len(full.Firings))
	}
	for i := range bare.Firings {
		if bare.Firings[i] != full.Firings[i] {
			t.Fatalf("firing %d: %+v against %+v", i, bare.Firings[i], full.Firings[i])
		}
	}
}

func TestTakeInPiecesIsTheSame(t *testing.T) {
	whole, _ := record(t, testConfig(t, "i4"), 3, Everything())
	e := engineOf(t, testConfig(t, "i4"), Everything())
	var crank []float64
	var sound, amps []float32
	for at := 0.5; at <= 3; at += 0.5 {
		e.RunUntil(at)
		part := e.Take()
		crank, sound, amps = append(crank, part.Crank...), append(sound, part.Sound.X...), append(amps, part.CoilAmps.X...)
	}
	if !slices.Equal(crank, whole.Crank) || !slices.Equal(sound, whole.Sound.X) || !slices.Equal(amps, whole.CoilAmps.X) {
		t.Error("a recording taken in pieces differs from one taken whole")
	}
}
