package order

// heardWork gathers what the bands do through the engine cycle.
type heardWork struct {
	sums   [][]float64 // by band and place
	counts []float64   // by place
}

func newHeardWork(bands, places int) *heardWork {
	return &heardWork{matrix(bands, places), make([]float64, places)}
}

// add takes frame i of the film at a place with a weight.
func (w *heardWork) add(place int, f film, i int, weight float64) {
	w.counts[place] += weight
	for b, row := range f.rows {
		w.sums[b][place] += weight * row[i]
	}
}

// curve is the mean of a band by place.
func (w *heardWork) curve(band int) []float64 {
	out := make([]float64, len(w.counts))
	for p, v := range w.sums[band] {
		out[p] = v / max(w.counts[p], 1e-9)
	}
	return out
}
