package cutout

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"slices"

	"halforder/engine"
	"halforder/measure/order"
	"halforder/signal"
)

// FromSound makes a recording of sound or vibration: the speed, followed from
// tenth to tenth of a second, and the roughness. Marks and calls are still to be
// added. src gives mono samples at rate; speed is a hint, 0 for none.
func FromSound(src order.Source, rate float64, l engine.Layout, speed engine.RPM) (Recording, error) {
	f, rough, err := framesOf(src, rate, l, speed)
	if err != nil {
		return Recording{}, err
	}
	r, err := fromFrames(f, rough, l, soundPasses)
	r.Cycles.Alike = soundAlike
	return r, err
}

// framesOf are the bands of a sound, and roughly the speed in it.
func framesOf(src order.Source, rate float64, l engine.Layout, speed engine.RPM) (signal.Frames, Track, error) {
	bank, err := signal.NewBank(rate)
	if err != nil {
		return signal.Frames{}, Track{}, err
	}
	listeners, err := newListeners(order.Config{Layout: l, Speed: speed}, rate)
	if err != nil {
		return signal.Frames{}, Track{}, err
	}
	if err := feed(src, listeners.Write, bank.Write); err != nil {
		return signal.Frames{}, Track{}, err
	}
	f := bank.Frames()
	rough, err := listeners.speed(float64(f.Len()) / f.Rate)
	return f, rough, err
}

// fromFrames makes a recording of the bands of a sound, or of the axes of a
// vibration, whose speed is roughly known.
func fromFrames(f signal.Frames, rough Track, l engine.Layout, passes [2]reach) (Recording, error) {
	best, agreed := Recording{}, math.Inf(-1)
	for _, begin := range []Track{rough, newLineScan(f, l.N(), median(slices.Clone(rough.Y))).speed()} {
		// The first pass mends the lag of the rough speed in a sudden drop; the
		// second looks again with a phase that keeps up.
		mended, _ := newEar(f, l.N(), begin).recording(l, passes[0])
		if len(mended.Speed.T) < minSamples {
			return Recording{}, fmt.Errorf("cut-out test: %.1f s of sound are too short, record 10 s before the first cut and after the last", float64(f.Len())/f.Rate)
		}
		r, a := newEar(f, l.N(), mended.Speed).recording(l, passes[1])
		if a > agreed {
			best, agreed = r, a
		}
	}
	if agreed < leastAgreed {
		return Recording{}, fmt.Errorf("cut-out test: the speed cannot be followed (%.0f %% of the sound agrees, %.0f %% are needed): hold the phone nearer to the engine, and keep quiet while recording", 100*agreed, 100*leastAgreed)
	}
	best.Cycles = cyclesOf(f, l.N(), best.Speed)
	best.Heard = true
	return best, nil
}

// soundAlike: pipes and places of cylinders differ, and loudness is not in
// proportion (judgement).
const soundAlike = 0.18

// leastAgreed is how well the harmonics must agree on the speed: noise alone
// finds agreement too (judgement; a firing order out of reach gave 0.75, engines
// that can be followed 0.84 to 0.98).
const leastAgreed = 0.8

func feed(src order.Source, sinks ...func([]float32)) error {
	buffer := make([]float32, 1<<14)
	for {
		n, err := src.Read(buffer)
		for _, sink := range sinks {
			sink(buffer[:n])
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// ear follows the phase of the engine cycle through a sound whose speed is
// roughly known: every band is turned back by the rough phase, and how the
// harmonics of the cycle turn on from one look to the next tells what the rough
// speed lacks.
type ear struct {
	frames signal.Frames
	n      int       // cylinders
	reach  int       // harmonics of the cycle
	phase  []float64 // rough cycle phase at each frame, radians
	rough  Track     // rough speed
	looks  [][]complex128
	aside  [][][]complex128 // looks at speeds aside of the rough one, in the order of reach.asides
	gain   []float64        // of each band, 1 over its usual size
}

// Looks are lookStep apart and lookLength long, s: two cycles or so, so that
// neighbouring harmonics part and a drop of half a second stays sharp.
const lookStep, lookLength = 0.1, 0.3

func newEar(f signal.Frames, cylinders int, rough Track) *ear {
	e := &ear{frames: f, n: cylinders, rough: medianOfFive(rough)}
	e.phase = make([]float64, f.Len())
	usual := engine.RPM(median(slices.Clone(e.rough.Y))).CycleHz()
	e.reach = max(min(3*cylinders, int(reachHarmonics*f.Rate/2/usual)), 1)
	speed, phase := reader{Track: e.rough}, 0.0
	for i := range e.phase {
		e.phase[i] = phase
		phase += 2 * math.Pi * engine.RPM(speed.at(float64(i)/f.Rate)).CycleHz() / f.Rate
	}
	return e
}

// reachHarmonics is how near to half the frame rate a harmonic may lie.
const reachHarmonics = 0.95

// medianOfFive takes lone outliers out of a track.
func medianOfFive(t Track) Track {
	out := Track{T: t.T, Y: slices.Clone(t.Y)}
	for i := range t.Y {
		out.Y[i] = median(slices.Clone(t.Y[max(i-2, 0):min(i+3, len(t.Y))]))
	}
	return out
}

// harmonics of the cycle that are followed: up to three firing orders, as far as
// the frames reach at the usual speed; beyond are mirror images.
func (e *ear) harmonics() int { return e.reach }

// look is the harmonics of all bands, one after the other, around a frame, as
// heard at the rough speed and a share of it aside.
func (e *ear) look(middle int, window []float64, aside float64) []complex128 {
	h := e.harmonics()
	out := make([]complex128, len(e.frames.Rows)*h)
	first := middle - len(window)/2
	for i, w := range window {
		k := first + i
		if k < 0 || k >= len(e.phase) {
			continue
		}
		turn := cmplx.Rect(1, -e.phase[k]*(1+aside))
		back := turn
		for j := range h {
			for b, row := range e.frames.Rows {
				out[b*h+j] += complex(w*float64(row[k]), 0) * back
			}
			back *= turn
		}
	}
	return out
}

// recording also says how well the harmonics agreed on the speed, 0 to 1.
func (e *ear) recording(l engine.Layout, s reach) (Recording, float64) {
	window := signal.Hann(max(int(lookLength*e.frames.Rate), 8))
	var middles []int // frames
	end := float64(len(e.phase)) / e.frames.Rate
	for t := lookLength; t < end-lookLength; t += lookStep {
		at := int(math.Round(t * e.frames.Rate))
		middles = append(middles, at)
	}
	for _, aside := range s.asides {
		var looks [][]complex128
		for _, at := range middles {
			looks = append(looks, e.look(at, window, aside))
		}
		e.aside = append(e.aside, looks)
		if aside == 0 {
			e.looks = looks
		}
	}
	e.balance()
	r := Recording{Layout: l}
	steps, agreed := e.steps(middles, s)
	for i := range steps {
		mid := float64(middles[i]+middles[i+1]) / 2 / e.frames.Rate
		seconds := float64(middles[i+1]-middles[i]) / e.frames.Rate
		r.Speed.T, r.Speed.Y = append(r.Speed.T, mid), append(r.Speed.Y, float64(engine.FromCycleHz(steps[i]/(2*math.Pi*seconds))))
		r.Rough.T, r.Rough.Y = append(r.Rough.T, mid), append(r.Rough.Y, e.roughness(i+1))
	}
	return r, agreed
}

// balance gives each band the same say.
func (e *ear) balance() {
	h := e.harmonics()
	e.gain = make([]float64, len(e.frames.Rows))
	for b := range e.gain {
		var sum float64
		for _, l := range e.looks {
			for _, z := range l[b*h : (b+1)*h] {
				sum += cmplx.Abs(z)
			}
		}
		if sum > 0 {
			e.gain[b] = float64(len(e.looks)*h) / sum
		}
	}
}

// betweenWeight is the say of harmonics between the firing orders: their phase
// jumps when the set of working cylinders changes, that of the firing orders
// does not.
const betweenWeight = 0.15

// turns is how each harmonic turned on from look i−1 to look i, over all bands,
// and the sum of their sizes.
func (e *ear) turns(looks [][]complex128, i int) (turns []complex128, total float64) {
	h := e.harmonics()
	turns = make([]complex128, h)
	for b := range e.frames.Rows {
		g := complex(e.gain[b]*e.gain[b], 0)
		for j := range h {
			turns[j] += g * looks[i][b*h+j] * cmplx.Conj(looks[i-1][b*h+j])
		}
	}
	for j := range turns {
		if (j+1)%e.n != 0 {
			turns[j] *= betweenWeight
		}
		total += cmplx.Abs(turns[j])
	}
	return turns, total
}

// agree is how well a further turn of the cycle by d radians explains the turns
// of its harmonics.
func agree(turns []complex128, d float64) (sum float64) {
	turn := cmplx.Rect(1, -d)
	back := turn
	for _, z := range turns {
		sum += real(z * back)
		back *= turn
	}
	return sum
}

// roughness is the size of the harmonics between the firing orders against the
// firing order, over all bands.
func (e *ear) roughness(i int) float64 {
	h := e.harmonics()
	var between, firing float64
	for b := range e.frames.Rows {
		for j := range h {
			v := cmplx.Abs(e.looks[i][b*h+j]) * e.gain[b]
			if (j+1)%e.n == 0 {
				firing += v * v
			} else if j+1 < e.n {
				between += v * v
			}
		}
	}
	return math.Sqrt(between / math.Max(firing, 1e-12))
}
