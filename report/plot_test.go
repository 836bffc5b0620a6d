package report

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"halforder/finding"

	"pgregory.net/rapid"
)

func plot(t testing.TB, series ...finding.Series) string {
	t.Helper()
	var b bytes.Buffer
	if err := Plot(&b, `Idle & "rough" <now>`, series); err != nil {
		t.Fatal(err)
	}
	wellFormed(t, b.String())
	return b.String()
}

func wellFormed(t testing.TB, svg string) {
	t.Helper()
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return
		} else if err != nil {
			t.Fatalf("not well-formed: %v\n%s", err, svg)
		}
	}
}

func TestPlotDrawsLineBandAndBars(t *testing.T) {
	svg := plot(t,
		finding.Series{Title: "speed", XName: "time", XUnit: "s", YName: "speed", YUnit: "rpm",
			X: []float64{0, 1, 2}, Y: []float64{700, 710, 705}, Low: []float64{690, 700, 695}, High: []float64{710, 720, 715}},
		finding.Series{Title: "work", Shape: finding.Bars, XName: "cylinder", YName: "work",
			X: []float64{1, 2}, Y: []float64{1, -0.1}, Low: []float64{0.9, -0.2}, High: []float64{1.1, 0}, Labels: []string{"1", "5"}})
	for _, want := range []string{`class="line"`, `class="band"`, `class="bar"`, `class="whisker"`, ">5</text>", "Idle &amp; &#34;rough&#34; &lt;now&gt;"} {
		if !strings.Contains(svg, want) {
			t.Errorf("no %s in\n%s", want, svg)
		}
	}
}

// A note and the marks stand in the picture and in its description.
func TestPlotSaysWhatIsMarked(t *testing.T) {
	svg := plot(t, finding.Series{Title: "cycle", Note: "each firing by its cylinder", XName: "crank angle", XUnit: "°", YName: "sound",
		X: []float64{0, 360, 720}, Y: []float64{0, 1, 0}, Marks: []finding.Mark{{X: 90, Label: "cyl 3"}}})
	for _, want := range []string{">marked: each firing by its cylinder</text>", ">cyl 3</text>", "marked: each firing by its cylinder. cyl 3 at 90 °."} {
		if !strings.Contains(svg, want) {
			t.Errorf("no %q in\n%s", want, svg)
		}
	}
}

func TestPlotOfNothingSaysSo(t *testing.T) {
	svg := plot(t, finding.Series{Title: "empty", X: []float64{1}, Y: []float64{math.NaN()}})
	if !strings.Contains(svg, "nothing to draw") {
		t.Errorf("an empty panel does not say so:\n%s", svg)
	}
}

func TestPlotNeverWritesNaN(t *testing.T) {
	value := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0}))
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, 5).Draw(rt, "n")
		row := func(name string) []float64 { return rapid.SliceOfN(value, n, n).Draw(rt, name) }
		s := finding.Series{X: row("x"), Y: row("y"), Low: row("low"), High: row("high"),
			Shape: rapid.SampledFrom([]finding.Shape{finding.Line, finding.Bars}).Draw(rt, "shape")}
		svg := plot(t, s)
		if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
			rt.Fatalf("no number in\n%s", svg)
		}
	})
}

func TestThinKeepsSpikes(t *testing.T) {
	y := make([]float64, 100_000)
	y[54_321] = 9
	kept := thin(y, maxLinePoint)
	for _, i := range kept {
		if i == 54_321 {
			return
		}
	}
	t.Errorf("the spike is not among the %d points kept", len(kept))
}

func TestTicksAreRoundAndInside(t *testing.T) {
	got := axis{low: 683, high: 722}.ticks(4)
	want := []float64{690, 700, 710, 720}
	if len(got) != len(want) {
		t.Fatalf("ticks %v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("ticks %v, want %v", got, want)
		}
	}
}
