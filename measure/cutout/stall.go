package cutout

import "math"

// span is a stretch of time, s.
type span struct{ from, to float64 }

func (s span) holds(t float64) bool { return t >= s.from && t < s.to }

// Below stalledShare of the usual speed an engine is stopping, and it needs
// restartSeconds after coming back to idle as before (judgement).
const (
	stalledShare   = 0.4
	restartSeconds = 4.0
)

// stalls finds where the engine stopped, and blanks the record from there until
// it idles again.
func (g grid) stalls() []span {
	usual := runningSpeed(g.y)
	var out []span
	for k := 0; k < len(g.y); k++ {
		if math.IsNaN(g.y[k]) || g.y[k] > stalledShare*usual {
			continue
		}
		from := k
		for k < len(g.y) && !(g.y[k] > 0.8*usual) {
			k++
		}
		for from > 0 && g.y[from-1] < 0.7*usual {
			from--
		}
		out = append(out, span{g.at(from), g.at(k) + restartSeconds})
	}
	for _, s := range out {
		for k := max(g.index(s.from), 0); k < min(g.index(s.to), len(g.y)); k++ {
			g.y[k] = math.NaN()
		}
	}
	return out
}

// runningSpeed is the usual speed of an engine that may have stood for long: the
// median of what is above half of what it mostly reaches.
func runningSpeed(y []float64) float64 {
	all := there(y)
	median(all) // sorts
	if len(all) == 0 {
		return 0
	}
	top := all[len(all)*9/10]
	var running []float64
	for _, v := range all {
		if v > top/2 {
			running = append(running, v)
		}
	}
	return median(running)
}

func there(x []float64) (out []float64) {
	for _, v := range x {
		if !math.IsNaN(v) {
			out = append(out, v)
		}
	}
	return out
}
