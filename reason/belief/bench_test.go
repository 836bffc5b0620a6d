package belief_test

import (
	"testing"
	"time"

	"halforder/engine"
	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// v12Job is a twelve with all cut-outs done and a coil swapped: the heaviest
// usual case.
func v12Job(t testing.TB) (belief.Car, []belief.Evidence) {
	car := belief.Car{Layout: layout(t, "v12"), Ignition: fault.CoilOnPlug, Injection: fault.Direct, Complaint: fault.Rough}
	ev := cutsWithDead(5, 12)
	ev = append(ev, belief.Evidence{ID: "swap", Regime: fault.Idle, Miss: belief.Present,
		Swap: &belief.Swap{Kind: fault.Coil, A: 5, B: 2, Outcome: belief.Stays, Before: 60, After: 60}})
	return car, ev
}

// BenchmarkV12NewFinding is the time from a new finding to the posterior.
func BenchmarkV12NewFinding(b *testing.B) {
	car, ev := v12Job(b)
	before := build(b, car, ev)
	e := belief.Evidence{ID: "plug", Reading: &belief.Reading{Check: "plug-look", Cylinders: []engine.Cylinder{5}, Outcome: "wet"}}
	b.ReportMetric(float64(before.Size()), "hypotheses")
	for b.Loop() {
		if _, err := before.With(e); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkV12Recording is the same for an analysis of a recording, which sees
// every fault of the engine.
func BenchmarkV12Recording(b *testing.B) {
	car, ev := v12Job(b)
	before := build(b, car, ev)
	e := belief.Evidence{ID: "recording", Regime: fault.Idle, Finding: oneDead(12, true)}
	for b.Loop() {
		if _, err := before.With(e); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkV12Repeat is the same for a reading that was taken before.
func BenchmarkV12Repeat(b *testing.B) {
	car, ev := v12Job(b)
	before := build(b, car, ev)
	for b.Loop() {
		if _, err := before.With(ev[4]); err != nil {
			b.Fatal(err)
		}
	}
}

// oneDead is what an analysis says that heard one dead cylinder.
func oneDead(n int, anonymous bool) *finding.Likelihood {
	l := &finding.Likelihood{Anonymous: anonymous, Else: -12, Log: map[finding.Pattern]float64{finding.AllWork(n): -15}}
	for k := range n {
		p := finding.AllWork(n).With(k, finding.Dead)
		if anonymous {
			p = p.Canonical()
		}
		l.Log[p] = -0.5 * float64(k%3)
	}
	return l
}

// BenchmarkV12FromScratch is the time for the whole job at once.
func BenchmarkV12FromScratch(b *testing.B) {
	car, ev := v12Job(b)
	for b.Loop() {
		build(b, car, ev)
	}
}

// The plain posterior beside the fast one, on a case the plain one can bear: a
// twin with few causes and a few readings.
func sideBySide(t testing.TB) (*fault.Catalogue, belief.Car, []belief.Evidence) {
	cat := fewCauses(t, "coil", "plug-fouled", "boot", "coil-wiring", "injector-dead", "coil-feed")
	car := belief.Car{Layout: layout(t, "i3"), Ignition: fault.CoilOnPlug, Injection: fault.Port, Complaint: fault.Rough}
	return cat, car, append(cutsWithDead(2, 3), belief.Evidence{Regime: fault.Idle, Finding: oneDead(3, false)})
}

func BenchmarkPlain(b *testing.B) {
	cat, car, ev := sideBySide(b)
	for b.Loop() {
		newPlain(cat, car, ev)
	}
}

func BenchmarkFast(b *testing.B) {
	cat, car, ev := sideBySide(b)
	for b.Loop() {
		if _, err := belief.New(cat, car, ev); err != nil {
			b.Fatal(err)
		}
	}
}

// The fast posterior must be worth its code: many times faster in the same run.
func TestFasterThanPlain(t *testing.T) {
	if testing.Short() {
		t.Skip("timing")
	}
	fast, plain := testing.Benchmark(BenchmarkFast), testing.Benchmark(BenchmarkPlain)
	ratio := float64(plain.NsPerOp()) / float64(fast.NsPerOp())
	t.Logf("plain %v, fast %v: %.0f times", time.Duration(plain.NsPerOp()), time.Duration(fast.NsPerOp()), ratio)
	if ratio < 5 {
		t.Errorf("the fast posterior is only %.1f times faster than the plain one", ratio)
	}
}
