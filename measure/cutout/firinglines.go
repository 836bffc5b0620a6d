package cutout

import (
	"math"
	"slices"

	"halforder/engine"
	"halforder/signal"
)

// Lines of the firing order in short spectra: windows of lineLength every
// lineStep, s; the first linesUsed multiples of the firing rate. A cut takes a
// fifth of the speed in half a second, which turns harmonics against a constant
// clock out of any window long enough to part them; their sizes still show.
const (
	lineStep, lineLength = 0.05, 0.35
	linesUsed            = 3
)

// Speeds looked for, as a share of the usual one, in even ratios, and how much
// the speed changes from spectrum to spectrum.
const (
	slowestShare, fastestShare = 0.45, 1.45
	speedChange                = 0.015
	speedRatio                 = 1.005
)

// How far an idle strays from its usual speed while cylinders are cut, natural
// logarithm (judgement). With one of three cut the lines of the cycle stand out
// at five thirds of the firing order too.
const fasterSpread, slowerSpread = 0.12, 0.2

// speed is the engine speed by the path along which the lines of the firing
// order are strongest against the spectrum around them, in all bands (Viterbi).
func (l *lineScan) speed() Track {
	n := l.count()
	if n < 2 {
		return Track{T: []float64{0}, Y: []float64{l.usual}}
	}
	places := len(l.speeds)
	reach := int(4 * speedChange / math.Log(speedRatio))
	price := make([]float64, 2*reach+1)
	for i := range price {
		z := float64(i-reach) * math.Log(speedRatio) / speedChange
		price[i] = z * z / 2
	}
	back := make([][]int16, n)
	score := l.at(0)
	for i := 1; i < n; i++ {
		back[i] = make([]int16, places)
		next := l.at(i)
		for k := range next {
			best, from := math.Inf(-1), k
			for j := max(k-reach, 0); j <= min(k+reach, places-1); j++ {
				if v := score[j] - price[j-k+reach]; v > best {
					best, from = v, j
				}
			}
			next[k] += best
			back[i][k] = int16(from)
		}
		score = next
	}
	t := Track{T: make([]float64, n), Y: make([]float64, n)}
	k := 0
	for j, v := range score {
		if v > score[k] {
			k = j
		}
	}
	for i := n - 1; i >= 0; i-- {
		t.T[i], t.Y[i] = float64(i)*lineStep+lineLength/2, l.speeds[k]
		if i > 0 {
			k = int(back[i][k])
		}
	}
	return t
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
	frames   signal.Frames
	usual    float64 // rpm
	fft      *signal.FFT
	window   []float64
	speeds   []float64 // rpm
	prior    []float64 // natural logarithm, by speed
	firing   []float64 // bins of the spectrum, by speed
	around   int       // bins to each side that a line is compared with
	windowed []float64
	bins     []complex128
	stands   []float64 // by bin: how far it stands out of what is around it, natural logarithm
	sum      []float64
}

func newLineScan(f signal.Frames, cylinders int, usual float64) *lineScan {
	l := &lineScan{frames: f, usual: usual, window: signal.Hann(max(int(lineLength*f.Rate), 8))}
	size := 4
	for size < 4*len(l.window) {
		size *= 2
	}
	l.fft, l.windowed = signal.NewFFT(size), make([]float64, len(l.window))
	l.bins, l.stands, l.sum = make([]complex128, size/2+1), make([]float64, size/2), make([]float64, size/2+1)
	firing := func(rpm float64) float64 {
		return engine.RPM(rpm).CycleHz() * float64(cylinders) * float64(size) / f.Rate
	}
	for v := usual * slowestShare; v > 0 && v < usual*fastestShare; v *= speedRatio {
		l.speeds, l.firing = append(l.speeds, v), append(l.firing, firing(v))
		off := math.Log(v / usual)
		if off > 0 {
			off /= fasterSpread
		} else {
			off /= slowerSpread
		}
		l.prior = append(l.prior, -off*off/2)
	}
	l.around = max(int(firing(usual)), 1)
	return l
}

// at scores all speeds in spectrum i.
func (l *lineScan) at(i int) []float64 {
	out := slices.Clone(l.prior)
	first := int(float64(i) * lineStep * l.frames.Rate)
	for _, row := range l.frames.Rows {
		l.spectrum(row[first:min(first+len(l.window), len(row))])
		for k, f := range l.firing {
			for j := 1; j <= linesUsed; j++ {
				at := int(f * float64(j))
				if at+1 >= len(l.stands) {
					break
				}
				part := f*float64(j) - float64(at)
				out[k] += ((1-part)*l.stands[at] + part*l.stands[at+1]) / float64(len(l.frames.Rows))
			}
		}
	}
	return out
}

func (l *lineScan) spectrum(x []float32) {
	var mean float64
	for _, v := range x {
		mean += float64(v) / float64(len(x))
	}
	for i, v := range x {
		l.windowed[i] = l.window[i] * (float64(v) - mean)
	}
	l.fft.Coefficients(l.bins, l.windowed[:len(x)])
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
