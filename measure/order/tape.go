package order

import (
	"math"
	"slices"

	"halforder/signal"
)

// tape keeps the frames of a run of cycles, and the speed tracked in it, until
// its misses are counted. As long as the stream has them all, its rows are views
// of the stream's.
type tape struct {
	rate   float64
	first  int64       // number of the first frame
	rows   [][]float32 // by band
	own    bool        // the rows are its own
	starts []float64   // of the cycles, in frames of the stream
	hz     []float64   // cycle rate there
	end    float64     // of the last cycle
	late   []float64   // phase error of each, in cycles
}

// take adds a cycle that starts and ends at frames of the stream.
func (t *tape) take(frames signal.Frames, c cycle, start, end float64) {
	if len(t.rows) == 0 {
		t.rate, t.first, t.rows = frames.Rate, int64(start), make([][]float32, len(frames.Rows))
	}
	have := t.first + int64(len(t.rows[0]))
	upTo := min(int64(end)+2, frames.First+int64(frames.Len()))
	for b, row := range frames.Rows {
		switch {
		case upTo <= have || have < frames.First:
		case t.own:
			part := row[have-frames.First : upTo-frames.First]
			t.rows[b] = append(t.roomy(t.rows[b], len(part)), part...)
		default:
			t.rows[b] = row[t.first-frames.First : upTo-frames.First]
		}
	}
	t.starts, t.hz, t.end = append(t.starts, start), append(t.hz, c.hz), end
	t.late = append(t.late, c.late)
}

// keep makes the rows its own: the stream is about to forget frames.
func (t *tape) keep() {
	if t.own {
		return
	}
	for b, row := range t.rows {
		t.rows[b] = slices.Clone(row)
	}
	t.own = len(t.rows) > 0
}

// roomy makes room for one more cycle's frames: for about a whole tape, as a long
// row moved again and again costs more.
func (t *tape) roomy(row []float32, cycle int) []float32 {
	if cap(row)-len(row) >= cycle {
		return row
	}
	return slices.Grow(row, max((missTape-t.cycles())*cycle, cycle, len(row)/4))
}

// cycles is how many there are.
func (t *tape) cycles() int { return len(t.starts) }

// clip is the tape for a clone, which may add to it.
func (t tape) clip() tape {
	t.rows = slices.Clone(t.rows)
	for b := range t.rows {
		t.rows[b] = slices.Clip(t.rows[b])
	}
	t.starts, t.hz, t.late = slices.Clip(t.starts), slices.Clip(t.hz), slices.Clip(t.late)
	return t
}

// start is the tape of its first cycles.
func (t *tape) start(cycles int) *tape {
	if cycles >= t.cycles() {
		return t
	}
	out := tape{rate: t.rate, first: t.first, starts: t.starts[:cycles], hz: t.hz[:cycles], late: t.late[:cycles], end: t.starts[cycles]}
	for _, row := range t.rows {
		out.rows = append(out.rows, row[:min(int(out.end)+2-int(t.first), len(row))])
	}
	return &out
}

// lateness is the root mean square of the phase errors.
func (t *tape) lateness() float64 {
	var sum float64
	from := min(settling, len(t.late))
	for _, v := range t.late[from:] {
		sum += v * v
	}
	return math.Sqrt(sum / float64(max(len(t.late)-from, 1)))
}
