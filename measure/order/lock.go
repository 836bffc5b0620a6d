package order

import (
	"math"
	"math/cmplx"

	"halforder/signal"
)

const (
	templateCycles = 16   // memory of the lock's picture of one cycle
	lockPhase      = 0.6  // share of a phase error corrected at once
	lockRate       = 0.10 // share of it taken into the rate
	phaseSpread    = 0.02 // expected phase error of a cycle, in cycles
	phaseReach     = 0.08 // largest error looked for, in cycles
	phaseSteps     = 12   // to each side
)

// lock cuts the frames into engine cycles and holds their phase: each cycle is
// compared with the picture of the last ones over all half orders and bands,
// and its start is moved to fit.
type lock struct {
	bands, harmonics, points int
	fft                      *signal.FFT
	wave                     []float64
	coefficients             []complex128
	template                 []complex128 // band-major, harmonic 1 first
	noise                    []float64
	seen                     int
	rate                     float64 // correction of the tracked rate, ratio
	turn                     [2*phaseSteps + 1][]complex128
}

// cycle is one engine cycle: its phasors, turned to the lock's phase.
type cycle struct {
	start, seconds float64
	hz             float64 // tracked cycle rate
	late           float64 // phase error that was corrected, in cycles
	score          float64 // of the speed track
	phasors        []complex64
	piece          int // of the stream, between gaps: phases of two pieces have nothing in common
}

func newLock(bands, harmonics int) *lock {
	points := 64
	for points < 4*harmonics {
		points *= 2
	}
	l := &lock{bands: bands, harmonics: harmonics, points: points, fft: signal.NewFFT(points)}
	l.wave = make([]float64, points)
	l.coefficients = make([]complex128, points/2+1)
	l.template = make([]complex128, bands*harmonics)
	l.noise = make([]float64, bands*harmonics)
	for s := range l.turn {
		delta := phaseReach * float64(s-phaseSteps) / phaseSteps
		l.turn[s] = make([]complex128, harmonics)
		for h := range l.turn[s] {
			l.turn[s][h] = cmplx.Rect(1, 2*math.Pi*float64(h+1)*delta)
		}
	}
	return l
}

// phasors stores harmonics of one cycle of a row, which starts at the frame
// number start (fractional) and lasts length frames.
func (l *lock) phasorsOf(dst []complex64, row []float32, start, length float64) {
	step := length / float64(l.points)
	for i := range l.wave {
		l.wave[i] = interpolate(row, start+(float64(i)+0.5)*step)
	}
	l.fft.Coefficients(l.coefficients, l.wave)
	scale := complex(1/float64(l.points), 0)
	for h := range dst {
		dst[h] = complex64(l.coefficients[h+1] * scale)
	}
}

// drop clears the harmonics above the highest one within reach of the frames:
// they hold nothing. Their noise is 0 from then on, by which others know.
func (l *lock) drop(x []complex64, reach int) {
	for b := range l.bands {
		for h := reach; h < l.harmonics; h++ {
			x[b*l.harmonics+h] = 0
		}
	}
}

// interpolate reads a row at a fractional place, a cubic through four frames.
func interpolate(row []float32, at float64) float64 {
	i := int(at)
	if i < 1 || i+2 >= len(row) {
		return float64(row[min(max(i, 0), len(row)-1)])
	}
	a, b, c, d := float64(row[i-1]), float64(row[i]), float64(row[i+1]), float64(row[i+2])
	f := at - float64(i)
	return b + f/2*(c-a+f*(2*a-5*b+4*c-d+f*(3*(b-c)+d-a)))
}

// settle finds how late the cycle is against the template, turns its phasors,
// and learns from it.
func (l *lock) settle(x []complex64) (late float64) {
	if l.seen > 0 {
		late = l.lateness(x)
		turnBy(x, l.harmonics, late)
	}
	l.seen++
	share := 1 / float64(min(l.seen, templateCycles))
	for i, v := range x {
		d := complex128(v) - l.template[i]
		l.template[i] += d * complex(share, 0)
		l.noise[i] += (real(d)*real(d) + imag(d)*imag(d) - l.noise[i]) * share
	}
	return late
}

// turnBy undoes a lateness, in cycles.
func turnBy(x []complex64, harmonics int, late float64) {
	for h := range harmonics {
		turn := complex64(cmplx.Rect(1, 2*math.Pi*float64(h+1)*late))
		for i := h; i < len(x); i += harmonics {
			x[i] *= turn
		}
	}
}

func (l *lock) lateness(x []complex64) float64 {
	products := make([]complex128, l.harmonics)
	for from := 0; from < len(x); from += l.harmonics {
		template, noise := l.template[from:][:l.harmonics], l.noise[from:][:l.harmonics]
		for h, v := range x[from:][:l.harmonics] {
			t := template[h]
			w := noise[h] + 0.02*sq(t) + 1e-30
			products[h] += complex128(v) * cmplx.Conj(t) * complex(1/w, 0)
		}
	}
	scores := make([]float64, len(l.turn))
	best := 0
	for s, turn := range l.turn {
		delta := phaseReach * float64(s-phaseSteps) / phaseSteps / phaseSpread
		sum := -delta * delta / 2
		for h, p := range products {
			sum += real(p)*real(turn[h]) - imag(p)*imag(turn[h])
		}
		scores[s] = sum
		if sum > scores[best] {
			best = s
		}
	}
	return phaseReach * (float64(best-phaseSteps) + peak(scores, best)) / phaseSteps
}

// follow updates the rate correction from a phase error and returns how far
// the next cycle's start moves, in cycles.
func (l *lock) follow(late float64) float64 {
	l.rate -= lockRate * late
	l.rate = min(max(l.rate, -0.05), 0.05)
	return lockPhase * late
}
