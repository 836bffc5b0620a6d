package script

import (
	"math"
	"slices"
	"time"
)

// watch sees sudden changes in the stream: a fall of speed or a rise of
// roughness when a cylinder goes, the opposite when it comes back.
type watch struct {
	samples []Sample // of the last ten seconds
}

const (
	watchSeconds = 10.0
	freshSeconds = 0.5 // the mean that is compared
	leastFall    = 0.025
)

func (w *watch) add(s Sample) {
	w.samples = append(w.samples, s)
	for len(w.samples) > 0 && s.At.Sub(w.samples[0].At).Seconds() > watchSeconds {
		w.samples = w.samples[1:]
	}
}

// between lists a feature from some seconds ago to some seconds ago.
func (w *watch) between(from, to float64, get func(Sample) float64) (out []float64) {
	if len(w.samples) == 0 {
		return nil
	}
	now := w.samples[len(w.samples)-1].At
	for _, s := range w.samples {
		if age := now.Sub(s.At).Seconds(); age <= from && age > to {
			out = append(out, get(s))
		}
	}
	return out
}

func rpm(s Sample) float64   { return s.RPM }
func rough(s Sample) float64 { return s.Rough }

// still reports whether the speed has been steady for some seconds.
func (w *watch) still(seconds float64) bool {
	x := w.between(seconds, -1, rpm)
	if len(x) < 4 || w.samples[len(w.samples)-1].At.Sub(w.samples[0].At).Seconds() < seconds*0.9 {
		return false
	}
	half := len(x) / 2
	base := mean(x)
	return base > 0 && math.Abs(mean(x[:half])-mean(x[half:])) < 0.03*base && spread(x) < 0.05*base
}

// level is what a feature was before something was asked for.
type level struct{ speed, speedNoise, rough, roughNoise float64 }

func (w *watch) level(seconds float64) level {
	s, r := w.between(seconds, -1, rpm), w.between(seconds, -1, rough)
	return level{mean(s), spread(s), mean(r), spread(r)}
}

// changed reports whether the engine is now weaker (sign +1) or stronger (−1)
// than at l.
func (w *watch) changed(l level, sign float64) bool {
	s, r := w.between(freshSeconds, -1, rpm), w.between(freshSeconds, -1, rough)
	if len(s) == 0 {
		return false
	}
	fall := sign * (l.speed - mean(s))
	if fall > max(leastFall*l.speed, 4*l.speedNoise) {
		return true
	}
	return l.roughNoise > 0 && sign*(mean(r)-l.rough) > max(5*l.roughNoise, 0.15*l.rough)
}

func mean(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v
	}
	return sum / float64(max(len(x), 1))
}

// spread is a standard deviation that a single spike does not move.
func spread(x []float64) float64 {
	if len(x) < 2 {
		return 0
	}
	m := mean(x)
	d := make([]float64, len(x))
	for i, v := range x {
		d[i] = math.Abs(v - m)
	}
	slices.Sort(d)
	return d[len(d)/2] / 0.6745
}

func seconds(from, to time.Time) float64 { return to.Sub(from).Seconds() }
