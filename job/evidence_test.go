package job

import (
	"strings"
	"testing"

	"halforder/finding"
)

// The same bytes judged twice are one witness: else a misfire grows certain by
// adding its recording again.
func TestARecordingCountsOnce(t *testing.T) {
	likely := &finding.Likelihood{Log: map[finding.Pattern]float64{finding.AllWork(6): -3}}
	heard := func(sha string) []Body {
		return []Body{&Recorded{SHA256: strings.Repeat(sha, 64)}, &Found{SHA256: strings.Repeat(sha, 64), Finding: finding.Finding{Analysis: "sound/1", Likelihood: likely}}}
	}
	once := fold(t, heard("a")...)
	again := fold(t, append(heard("a"), heard("a")...)...)
	other := fold(t, append(heard("a"), heard("b")...)...)
	if n := len(once.Evidence()); n != 1 {
		t.Fatalf("one recording gives %d pieces of evidence", n)
	}
	if n := len(again.Evidence()); n != 1 {
		t.Errorf("the same recording twice gives %d pieces of evidence, want 1", n)
	}
	if n := len(other.Evidence()); n != 2 {
		t.Errorf("two recordings give %d pieces of evidence, want 2", n)
	}
}
