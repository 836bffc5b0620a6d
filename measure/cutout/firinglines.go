package cutout

import (
	"math"
	"slices"

	"halforder/engine"
	"halforder/signal"
)

// Lines of the cycle in short spectra: windows of lineLength every lineStep, s,
// long enough to part harmonics of the cycle; up to linesUsed multiples of the
// firing rate. A cut takes a fifth of the speed in half a second, which smears
// every line but the lowest: each window is looked at on clocks that run along with
// a change of speed, too.
const (
	lineStep, lineLength = 0.05, 0.6
	linesUsed            = 3
)

// lineChanges are the changes of speed tried, share a second; changing from one to
// the next costs lineTurn, and a step of speedRatio aside lineAside, natural
// logarithm (judgement).
var lineChanges = []float64{-0.9, -0.5, -0.25, 0, 0.25, 0.5, 0.9}

const lineTurn, lineAside = 1.5, 0.5

// Speeds looked for, as a share of the usual one, in even ratios.
const (
	slowestShare, fastestShare = 0.45, 1.45
	speedRatio                 = 1.005
)

// How far an idle strays from its usual speed while cylinders are cut, natural
// logarithm (judgement).
const fasterSpread, slowerSpread = 0.12, 0.3

// speed is the engine speed by the path along which the lines of the cycle stand
// out most from the spectrum around them, in all bands (Viterbi).
func (l *lineScan) speed() Track {
	n := l.count()
	if n < 2 {
		return Track{T: []float64{0}, Y: []float64{l.usual}}
	}
	back := make([][]int16, n)
	score := l.at(0)
	for i := 1; i < n; i++ {
		score, back[i] = l.onward(score, l.at(i))
	}
	t := Track{T: make([]float64, n), Y: make([]float64, n)}
	at := 0
	for j, v := range score {
		if v > score[at] {
			at = j
		}
	}
	for i := n - 1; i >= 0; i-- {
		t.T[i], t.Y[i] = float64(i)*lineStep+lineLength/2, l.speeds[at%len(l.speeds)]
		if i > 0 {
			at = int(back[i][at])
		}
	}
	return t
}

// onward goes on from the best ways to every speed and change by one window.
func (l *lineScan) onward(before, here []float64) (score []float64, from []int16) {
	places := len(l.speeds)
	from = make([]int16, len(here))
	for to, change := range lineChanges {
		for k := range places {
			best, at := math.Inf(-1), k
			for c, was := range lineChanges {
				moved := int(math.Round((change + was) / 2 * lineStep / math.Log(speedRatio)))
				turn := lineTurn * math.Abs(float64(to-c))
				for aside := -1; aside <= 1; aside++ {
					j := k - moved - aside
					if j < 0 || j >= places {
						continue
					}
					if v := before[c*places+j] - turn - lineAside*math.Abs(float64(aside)); v > best {
						best, at = v, c*places+j
					}
				}
			}
			here[to*places+k] += best
			from[to*places+k] = int16(at)
		}
	}
	return here, from
}

// count is how many spectra there are.
func (l *lineScan) count() int {
	if len(l.speeds) == 0 {
		return 0
	}
	return max(int((float64(l.frames.Len())/l.frames.Rate-lineLength)/lineStep), 0)
}

// lineScan scores speeds in the short spectra of a sound.
type lineScan struct {
	frames    signal.Frames
	usual     float64 // rpm
	cylinders int
	fft       *signal.FFT
	window    []float64
	clocks    [][]float64 // by change: where each sample of a window is read, in samples
	speeds    []float64   // rpm
	prior     []float64   // natural logarithm, by speed
	cycle     []float64   // bins of the spectrum from line to line, by speed
	around    int         // bins to each side that a line is compared with
	windowed  []float64
	bins      []complex128
	stands    []float64 // by bin: how far it stands out of what is around it, natural logarithm
	sum       []float64
}

func newLineScan(f signal.Frames, cylinders int, usual float64) *lineScan {
	l := &lineScan{frames: f, usual: usual, cylinders: cylinders, window: signal.Hann(max(int(lineLength*f.Rate), 8))}
	size := 4
	for size < 3*len(l.window) {
		size *= 2
	}
	l.fft, l.windowed = signal.NewFFT(size), make([]float64, len(l.window))
	l.bins = make([]complex128, size/2+1)
	for _, change := range lineChanges {
		l.clocks = append(l.clocks, clock(len(l.window), change/f.Rate))
	}
	cycle := func(rpm float64) float64 { return engine.RPM(rpm).CycleHz() * float64(size) / f.Rate }
	for v := usual * slowestShare; v > 0 && v < usual*fastestShare; v *= speedRatio {
		l.speeds, l.cycle = append(l.speeds, v), append(l.cycle, cycle(v))
		off := math.Log(v / usual)
		if off > 0 {
			off /= fasterSpread
		} else {
			off /= slowerSpread
		}
		l.prior = append(l.prior, -off*off/2)
	}
	l.around = max(int(cycle(usual)*float64(cylinders)), 1)
	used := min(int(cycle(usual*fastestShare))*linesUsed*cylinders+l.around+2, size/2)
	l.stands, l.sum = make([]float64, used), make([]float64, used+1)
	return l
}

// clock is where samples lie that are even in the phase of something whose rate
// changes by a share a sample, the middle one at rest.
func clock(n int, change float64) []float64 {
	out := make([]float64, n)
	middle := float64(n-1) / 2
	for i := range out {
		u := float64(i) - middle
		t := u
		if change != 0 {
			t = (math.Sqrt(math.Max(1+2*change*u, 0)) - 1) / change
		}
		out[i] = math.Min(math.Max(middle+t, 0), float64(n-1))
	}
	return out
}

// at scores all changes and speeds in window i, the speeds of a change one after
// the other.
func (l *lineScan) at(i int) []float64 {
	var out []float64
	first := int(float64(i) * lineStep * l.frames.Rate)
	for _, clock := range l.clocks {
		scores := slices.Clone(l.prior)
		for _, row := range l.frames.Rows {
			l.spectrum(row[first:min(first+len(l.window), len(row))], clock)
			for k, cycle := range l.cycle {
				scores[k] += l.lines(cycle) / float64(len(l.frames.Rows))
			}
		}
		out = append(out, scores...)
	}
	return out
}

// lines is how far the lines of a cycle stand out. Firing orders are always
// there; the others only when cylinders differ.
func (l *lineScan) lines(cycle float64) (sum float64) {
	for j := 1; j <= linesUsed*l.cylinders; j++ {
		at := int(cycle * float64(j))
		if at+1 >= len(l.stands) {
			break
		}
		part := cycle*float64(j) - float64(at)
		v := (1-part)*l.stands[at] + part*l.stands[at+1]
		if j%l.cylinders != 0 {
			v = max(v, 0) * betweenLines
		}
		sum += v
	}
	return sum
}

// betweenLines is the say of lines between the firing orders (judgement).
const betweenLines = 0.5

func (l *lineScan) spectrum(x []float32, clock []float64) {
	var mean float64
	for _, v := range x {
		mean += float64(v) / float64(len(x))
	}
	for i := range l.windowed {
		at := min(int(clock[i]), len(x)-1)
		part, next := clock[i]-float64(at), min(at+1, len(x)-1)
		l.windowed[i] = l.window[i] * ((1-part)*float64(x[at]) + part*float64(x[next]) - mean)
	}
	l.fft.Coefficients(l.bins, l.windowed)
	for i := range l.stands {
		re, im := real(l.bins[i]), imag(l.bins[i])
		l.stands[i] = re*re + im*im
		l.sum[i+1] = l.sum[i] + l.stands[i]
	}
	for i, v := range l.stands {
		from, to := max(i-l.around, 0), min(i+l.around+1, len(l.stands))
		usual := (l.sum[to] - l.sum[from]) / float64(to-from)
		l.stands[i] = math.Log(leastStands + v/(usual+1e-30))
	}
}

// leastStands keeps an empty place from costing more than a full one brings.
const leastStands = 0.1
