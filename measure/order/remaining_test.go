package order

import (
	"slices"
	"testing"
)

// strokes is a run of cycles of three firings, 40 points each, that all sound
// alike but the second in every third cycle: as loud as given, and early by some
// points.
func strokes(cycles int, loud float32, early int) (beatRun, []float64) {
	const firings, points = 3, 40
	n := cycles * firings
	r := beatRun{n: firings, grid: beatGrid{rows: [][]float32{make([]float32, (n+1)*points), make([]float32, (n+1)*points)}, spread: []float32{1, 1}}}
	miss := make([]float64, n)
	for j := range n {
		begin, size := j*points, float32(1)
		r.begins = append(r.begins, begin)
		if j%9 == 1 {
			begin, size, miss[j] = begin-early, loud, 1
		}
		for i := range 10 {
			r.grid.rows[0][begin+i] = size * float32(1-2*(i%2))
			r.grid.rows[1][begin+i] = 2 * size
		}
	}
	r.begins = append(r.begins, n*points)
	return r, miss
}

// A firing that is gone leaves little; one that comes early in some cycles, as
// by its own way to the microphone, leaves all, though its beginning is quiet.
func TestWhatAMissLeaves(t *testing.T) {
	gone, miss := strokes(60, 0, 0)
	if left := gone.remaining([]int{1}, miss); left > 0.3 {
		t.Errorf("a gone firing leaves %.2f", left)
	}
	if got := gone.quietedOf([]int{0, 1, 2}, miss); !slices.Contains(got, 1) {
		t.Errorf("the gone firing is not among the quiet ones %v", got)
	}
	early, miss := strokes(60, 1, 6)
	if left := early.remaining([]int{1}, miss); left < 0.95 || left > 1.05 {
		t.Errorf("an early firing leaves %.2f, want all", left)
	}
	if got := early.quietedOf([]int{1}, miss); len(got) > 0 {
		t.Errorf("an early firing counts as quiet")
	}
}

// What makes all firings louder or quieter, as the speed does, is no quiet one.
func TestAQuietCycleIsNoQuietFiring(t *testing.T) {
	r, _ := strokes(60, 1, 0)
	chance := make([]float64, 60)
	for c := range chance {
		if c%10 < 4 {
			chance[c] = 1
			for i := c * 120; i < (c+1)*120; i++ {
				r.grid.rows[0][i] *= 0.5
				r.grid.rows[1][i] *= 0.5
			}
		}
	}
	if _, left, _, _ := r.quieted(0, chance); left < 0.95 {
		t.Errorf("cycles that are quiet as a whole leave %.2f of one firing against the others", left)
	}
	r, _ = strokes(60, 0, 0)
	if slot, left, _, _ := r.quieted(0, thirds(60)); slot != 1 || left > 0.5 {
		t.Errorf("the quiet firing is taken to be %d, %.2f left; want 1", slot, left)
	}
}

// thirds is 1 for every third cycle.
func thirds(n int) []float64 {
	out := make([]float64, n)
	for c := 0; c < n; c += 3 {
		out[c] = 1
	}
	return out
}

// A firing that alone falls quiet is enough; where another gets louder by as
// much, firings were lost count of.
func TestQuietAlone(t *testing.T) {
	k := kinds{chance: thirds(200), proof: 2 * missProof, apart: 6, left: 0.6, rises: 1.05}
	if !k.sure() {
		t.Error("a firing that alone falls quiet is no miss")
	}
	k.rises = 1.5
	if k.sure() {
		t.Error("a firing that falls quiet as another gets loud is a miss")
	}
	k.rises, k.left = 1.05, 0.95
	if k.sure() {
		t.Error("kinds in which no firing falls quiet are misses")
	}
}
