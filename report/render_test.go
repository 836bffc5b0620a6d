package report

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"halforder/finding"
)

func sample() Report {
	at := time.Date(2026, 3, 9, 8, 30, 0, 0, time.UTC)
	return Report{Number: 7, Car: "Tarn <Corvid>", Status: "open", Facts: []Fact{{"engine", "inline six"}},
		Complaint: []string{"shakes at the lights"}, Cautions: []string{"hot parts"},
		Measured: []Entry{{Number: 2, At: at, By: "Ines", What: "sound, idle.wav", Result: "one cylinder is missing", Notes: []string{"704 rpm"},
			Plots: []finding.Series{{Title: "speed", X: []float64{0, 1}, Y: []float64{700, 705}}}}},
		Believed: []Claim{{"coil C, internal fault", 0.996}, {"spark plug at cylinder 3", 0.002}},
		Moved:    []string{"the swap of entry 9"},
		Next:     []Step{{What: "swap coil 3 with 5", Why: "it tells the coil from the rest", Cost: "12 min", Needs: []string{"engine off"}, Cautions: []string{"ignition off"}, Stops: []string{"fuel leak"}}},
		Done:     []Entry{{Number: 9, At: at, What: "coil renewed at 5"}}, Proof: []string{"before: one missing; after: none"},
		Codes: []Fact{{"P0303", "misfire at cylinder 3"}}, Open: []string{"only idle was seen"}, Spent: []Fact{{"time", "40 min"}}, Closing: []string{"coil"}}
}

// everything lists what each rendering must show.
var everything = []string{"shakes at the lights", "hot parts", "one cylinder is missing", "704 rpm", "coil C, internal fault", "over 99 %", "under 1 %",
	"entry 9", "swap coil 3 with 5", "tells the coil", "12 min", "ignition off", "fuel leak", "coil renewed at 5", "after: none", "P0303", "only idle", "40 min"}

func TestRenderingsShowTheSame(t *testing.T) {
	for name, render := range map[string]func(*bytes.Buffer) error{
		"text": func(b *bytes.Buffer) error { return Text(b, sample()) },
		"HTML": func(b *bytes.Buffer) error { return HTML(b, sample()) },
	} {
		var b bytes.Buffer
		if err := render(&b); err != nil {
			t.Fatal(err)
		}
		for _, want := range everything {
			if !strings.Contains(b.String(), want) {
				t.Errorf("%s does not show %q", name, want)
			}
		}
	}
}

func TestHTMLNeedsNothingElseAndEscapes(t *testing.T) {
	var b bytes.Buffer
	if err := HTML(&b, sample()); err != nil {
		t.Fatal(err)
	}
	for _, banned := range []string{"<script", "src=", "href=", "@import", "url(", "<Corvid>"} {
		if strings.Contains(b.String(), banned) {
			t.Errorf("the page contains %q", banned)
		}
	}
	if !strings.Contains(b.String(), `<svg xmlns`) {
		t.Error("the page has no plot")
	}
}

func TestTextFitsTheTerminal(t *testing.T) {
	r := sample()
	r.Complaint = []string{strings.Repeat("it shakes and smells of fuel ", 20)}
	var b bytes.Buffer
	if err := Text(&b, r); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(b.String()) {
		if n := len([]rune(strings.TrimRight(line, "\n"))); n > textWidth {
			t.Errorf("%d columns: %s", n, line)
		}
	}
}

func TestPercentNeverClaimsCertainty(t *testing.T) {
	for p, want := range map[float64]string{1: "over 99 %", 0: "under 1 %", 0.5: "50 %", 0.994: "over 99 %", 0.012: "1 %"} {
		if got := Percent(p); got != want {
			t.Errorf("Percent(%g) = %q, want %q", p, got, want)
		}
	}
}
