package order

import (
	"testing"

	"halforder/finding"
)

// Where firings are faint in the bass nobody is called healthy, and nobody accused.
func TestFaintFiringsLeaveItOpen(t *testing.T) {
	h := heard{layout: parse(t, "1-5-3-6-2-4")}
	h.total.add(cycle{hz: 6, seconds: 1. / 6})
	for faint, want := range map[float64]finding.Verdict{0: finding.NoMisfire, 0.02: finding.NoMisfire, 0.2: finding.CannotTell} {
		f := finding.Finding{Verdict: finding.NoMisfire}
		h.addQuiet(&f, []stretch{{cycles: 100, quiet: quietSlots{cycles: 100, faint: faint}}}, judgement{})
		if f.Verdict != want {
			t.Errorf("verdict %q with %.2f of the firings faint, want %q", f.Verdict, faint, want)
		}
	}
}

// Half of the waves gone in a tenth of the firings are seen, a noisy wave is not
// taken for that.
func TestFaintFiringsAreThoseBeyondTheNoise(t *testing.T) {
	layout := parse(t, "1-5-3-6-2-4")
	faint := func(noise float64, every int) float64 {
		s := synth{layout: layout, rate: 32000, rpm: 780, seconds: 16, work: []float64{1, 1, 1, 1, 1, 1}, spread: 0.05, noise: noise, seed: 4}
		s.miss = func(cycle, position int) bool { return every > 0 && (5*cycle+position)%every == 0 }
		l, err := NewListener(Config{Layout: layout}, s.rate)
		if err != nil {
			t.Fatal(err)
		}
		l.Write(s.sound())
		if _, err := l.Finish(); err != nil {
			t.Fatal(err)
		}
		return l.heard.folded(l.heard.cycles).faintFirings()
	}
	if v := faint(0.1, 0); v > 0 {
		t.Errorf("%.2f of the firings of a healthy engine are faint", v)
	}
	if v := faint(1, 0); v > 0.02 {
		t.Errorf("%.2f of the firings of a healthy engine in noise are faint", v)
	}
	if v := faint(0.1, 11); v < 0.05 || v > 0.14 {
		t.Errorf("%.2f of the firings are faint, want some 1/11", v)
	}
}

// Waves turned upside down tell of a phase that wanders: they and what goes with
// them is not taken for firings that are gone, in which the same wave is small.
func TestTurnedWavesAreNotFaintFirings(t *testing.T) {
	waves := func(turned, gone int) []float64 {
		var out []float64
		for i := range 300 {
			out = append(out, 0.8+0.4*float64(i)/300)
		}
		for i := range turned { // as many at every place down from faintLeft
			out = append(out, faintLeft-1.2*float64(i)/float64(turned))
		}
		for range gone {
			out = append(out, 0.1)
		}
		return out
	}
	if v := shareGone(waves(60, 0)); v > 0 {
		t.Errorf("%.2f of the firings are faint where the phase wanders", v)
	}
	if v := shareGone(waves(0, 60)); v < 0.15 || v > 0.18 {
		t.Errorf("%.2f of the firings are faint, want one in six", v)
	}
}
