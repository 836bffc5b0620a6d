package order

import "testing"

// Six cycles in a row with the second firing gone, then six with the third: it
// is one engine, of which a firing was lost count of. The same firing gone for
// six cycles and there for six is no slip.
func TestALostCountIsNoKindOfCycles(t *testing.T) {
	lasting := transitions{{0.9, 0.1}, {0.1, 0.9}}
	for _, slips := range []bool{true, false} {
		r, _ := strokes(60, 1, 0)
		k := kinds{chance: make([]float64, 60), stay: lasting}
		for c := range k.chance {
			gone := c*3 + 1
			if c/6%2 == 1 {
				k.chance[c] = 1
				gone++
			}
			if !slips && k.chance[c] == 0 {
				continue
			}
			clear(r.grid.rows[0][gone*40 : gone*40+20])
			clear(r.grid.rows[1][gone*40 : gone*40+20])
		}
		if got := r.slipped(k); got != slips {
			t.Errorf("slipped: %v, want %v", got, slips)
		}
	}
}
