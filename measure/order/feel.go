package order

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"halforder/finding"
)

// Shake is what a motion sensor felt at a moment: acceleration along three axes
// of any orientation, in any unit.
type Shake struct {
	Seconds float64
	Axes    [3]float64
}

const (
	gapSeconds  = 0.25 // without a sample: the recording is taken apart there
	leastShakes = 64
	feelTop     = 400.0 // Hz, highest rate kept
	feelLeast   = 20.0
)

// Feel judges the motion of a sensor lying on the engine. The samples may come
// unevenly, twice, or with gaps: their times count, not their number. It looks
// along the axis that moves most, so the sensor may lie as it likes. Orders
// above half the sample rate are out of reach, and a note says which. Errors as
// for Analyse, and for times that make no sense.
func Feel(shakes []Shake, config Config) (finding.Finding, error) {
	parts, err := wholeParts(shakes)
	if err != nil {
		return finding.Finding{}, err
	}
	longest := parts[0]
	for _, p := range parts {
		if p[len(p)-1].Seconds-p[0].Seconds > longest[len(longest)-1].Seconds-longest[0].Seconds {
			longest = p
		}
	}
	if len(longest) < leastShakes {
		return finding.Finding{}, &TooShortError{longest[len(longest)-1].Seconds - longest[0].Seconds, 5}
	}
	x, rate := even(longest, mainAxis(longest))
	if !(rate >= feelLeast) {
		return finding.Finding{}, fmt.Errorf("the sensor gives %.0f samples a second, too few to feel an engine: %.0f or more are needed", rate, feelLeast)
	}
	l, err := NewListener(config, rate)
	if err != nil {
		return finding.Finding{}, err
	}
	l.heard.motion = true
	l.Write(x)
	f, err := l.Finish()
	if err != nil {
		return f, err
	}
	f.Analysis = FeelName
	if len(parts) > 1 {
		f.Notes = append(f.Notes, fmt.Sprintf("the recording has %d gaps; judged its longest whole part, %.0f s", len(parts)-1, float64(len(x))/rate))
	}
	f.Notes = append(f.Notes, l.reachNotes()...)
	return f, nil
}

// FeelName is this analysis' name in findings of Feel.
const FeelName = "order/1 motion"

// reachNotes says which orders the rate leaves out.
func (l *Listener) reachNotes() []string {
	hz := float64(l.speedNow()) / 60
	top := foldTop * l.bank.FrameRate() / hz
	firing := float64(l.config.Layout.N()) / 2
	note := fmt.Sprintf("orders above %.1f are out of reach at %.0f samples a second", math.Floor(2*top)/2, l.bank.FrameRate())
	if top < firing {
		note += fmt.Sprintf("; the firing order %.1f is among them, so nothing can be compared with it", firing)
	}
	return []string{note}
}

// wholeParts sorts the samples, drops doubled times and takes the rest apart at
// gaps.
func wholeParts(shakes []Shake) ([][]Shake, error) {
	if len(shakes) == 0 {
		return nil, errors.New("no motion given: expected times and accelerations along three axes")
	}
	sorted := slices.Clone(shakes)
	for _, s := range sorted {
		for _, v := range append(s.Axes[:], s.Seconds) {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, errors.New("the motion holds values that are no numbers: record again, or remove those lines")
			}
		}
	}
	slices.SortStableFunc(sorted, func(a, b Shake) int {
		switch {
		case a.Seconds < b.Seconds:
			return -1
		case a.Seconds > b.Seconds:
			return 1
		}
		return 0
	})
	sorted = slices.CompactFunc(sorted, func(a, b Shake) bool { return a.Seconds == b.Seconds })
	var parts [][]Shake
	from := 0
	for i := 1; i <= len(sorted); i++ {
		if i == len(sorted) || sorted[i].Seconds-sorted[i-1].Seconds > gapSeconds {
			parts = append(parts, sorted[from:i])
			from = i
		}
	}
	return parts, nil
}

// mainAxis is the direction that moves most: gravity is taken off, turning the
// sensor turns the axis with it.
func mainAxis(shakes []Shake) [3]float64 {
	var mean [3]float64
	for _, s := range shakes {
		for i, v := range s.Axes {
			mean[i] += v / float64(len(shakes))
		}
	}
	square := mat.NewSymDense(3, nil)
	for _, s := range shakes {
		for i := range 3 {
			for k := i; k < 3; k++ {
				square.SetSym(i, k, square.At(i, k)+(s.Axes[i]-mean[i])*(s.Axes[k]-mean[k]))
			}
		}
	}
	var e mat.EigenSym
	if !e.Factorize(square, true) {
		return [3]float64{0, 0, 1}
	}
	var v mat.Dense
	e.VectorsTo(&v)
	return [3]float64{v.At(0, 2), v.At(1, 2), v.At(2, 2)}
}

// even reads the motion along an axis at a steady rate, the usual one of the
// samples, between its neighbours in time.
func even(shakes []Shake, axis [3]float64) ([]float32, float64) {
	var steps []float64
	for i := 1; i < len(shakes); i++ {
		steps = append(steps, shakes[i].Seconds-shakes[i-1].Seconds)
	}
	rate := min(1/median(steps), feelTop)
	first, last := shakes[0].Seconds, shakes[len(shakes)-1].Seconds
	out := make([]float32, int((last-first)*rate))
	at := 0
	for i := range out {
		t := first + float64(i)/rate
		for at+2 < len(shakes) && shakes[at+1].Seconds <= t {
			at++
		}
		a, b := shakes[at], shakes[at+1]
		part := (t - a.Seconds) / (b.Seconds - a.Seconds)
		for k := range 3 {
			out[i] += float32(axis[k] * (a.Axes[k] + (b.Axes[k]-a.Axes[k])*part))
		}
	}
	centre(out)
	return out, rate
}

// centre takes the mean off: gravity is no motion.
func centre(x []float32) {
	var sum float64
	for _, v := range x {
		sum += float64(v)
	}
	mean := float32(sum / float64(max(len(x), 1)))
	for i := range x {
		x[i] -= mean
	}
}
