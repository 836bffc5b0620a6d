package order

import (
	"slices"
	"testing"

	"halforder/engine"
)

// A tape that had to keep its frames holds what one holds that views the
// stream's.
func TestAKeptTapeHoldsTheSame(t *testing.T) {
	layout, err := engine.Parse("i3")
	if err != nil {
		t.Fatal(err)
	}
	x := synth{layout: layout, rate: 16000, rpm: 900, seconds: 20, work: []float64{1, 0.4, 1}, noise: 0.1, seed: 3}.sound()
	var tapes []tape
	for _, keep := range []bool{false, true} {
		l, err := NewListener(Config{Layout: layout}, 16000)
		if err != nil {
			t.Fatal(err)
		}
		for piece := range slices.Chunk(x, 5000) {
			l.Write(piece)
			if keep {
				l.heard.tape.keep()
			}
		}
		tapes = append(tapes, l.heard.tape)
	}
	if tapes[0].own || !tapes[1].own || tapes[0].cycles() < 50 {
		t.Fatalf("%d cycles, own rows: %v and %v", tapes[0].cycles(), tapes[0].own, tapes[1].own)
	}
	for b, row := range tapes[0].rows {
		if !slices.Equal(row, tapes[1].rows[b]) {
			t.Errorf("band %d: the kept frames differ", b)
		}
	}
}
