package order

import (
	"slices"

	"halforder/signal"
)

// reel keeps the frames around one cut, for a second look at how the phase went
// through it.
type reel struct {
	Cut
	rate  float64
	first int64 // number of the first frame kept
	rows  [][]float32
}

const (
	reelBefore = 8.0  // s kept before a cut
	reelDuring = 12.0 // s kept of it
	reelAfter  = 3.0  // s kept after it
)

// span is what is kept, in seconds.
func (r *reel) span() (from, to float64) {
	return max(r.From-reelBefore, 0), min(r.To+reelAfter, r.From+reelDuring+reelAfter)
}

// take copies the frames that belong to it and are new.
func (r *reel) take(frames signal.Frames) {
	from, to := r.span()
	begin := max(int64(from*frames.Rate), r.first+int64(r.length()))
	if r.rows == nil {
		r.rate, r.first, r.rows = frames.Rate, max(begin, frames.First), make([][]float32, len(frames.Rows))
		begin = r.first
	}
	end := min(int64(to*frames.Rate), frames.First+int64(frames.Len()))
	if end <= begin || begin < frames.First {
		return
	}
	for b, row := range frames.Rows {
		r.rows[b] = append(r.rows[b], row[begin-frames.First:end-frames.First]...)
	}
}

func (r *reel) length() int {
	if len(r.rows) == 0 {
		return 0
	}
	return len(r.rows[0])
}

// clone shares what is kept and appends to memory of its own.
func (r reel) clone() reel {
	rows := make([][]float32, len(r.rows))
	for b, row := range r.rows {
		rows[b] = slices.Clip(row)
	}
	if r.rows != nil {
		r.rows = rows
	}
	return r
}
