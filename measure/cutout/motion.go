package cutout

import (
	"fmt"

	"halforder/engine"
	"halforder/signal"
)

// FromMotion makes a recording of the acceleration of a phone on the engine:
// three axes, any unit, at their real times, which may jitter. They are followed like
// the bands of a sound, those that hardly shake left out. What lies above half the sampling rate
// is out of reach: at 60 samples a second a six at 1,000 rpm cannot be followed.
func FromMotion(axes [3]Track, l engine.Layout, speed engine.RPM) (Recording, error) {
	best, most := Track{}, 0.0
	for i, a := range axes {
		if err := a.check(); err != nil {
			return Recording{}, fmt.Errorf("motion, axis %d: %w", i+1, err)
		}
		if v := variance(a.Y); v > most {
			best, most = a, v
		}
	}
	if most == 0 || len(best.T) < minSamples {
		return Recording{}, fmt.Errorf("motion: no axis moves: lay the phone on the engine cover")
	}
	rate := float64(len(best.T)-1) / (best.T[len(best.T)-1] - best.T[0])
	if err := reachable(speed, l, rate); err != nil {
		return Recording{}, err
	}
	f, rough, err := framesOf(signal.FromMemory(even(best, best, rate)), rate, l, speed)
	if err != nil {
		return Recording{}, err
	}
	for _, a := range axes {
		if v := variance(a.Y); v >= leastAxis*most && v < most {
			bank, err := signal.NewBank(rate)
			if err != nil {
				return Recording{}, err
			}
			bank.Write(even(a, best, rate))
			f.Rows, f.Bands = append(f.Rows, bank.Frames().Rows...), append(f.Bands, bank.Frames().Bands...)
		}
	}
	r, err := fromFrames(f, rough, l, motionPasses)
	if err == nil {
		err = reachable(engine.RPM(median(there(r.Speed.Y))), l, rate)
	}
	r.Cycles.Alike, r.Cycles.Sways = motionAlike, motionSways
	for _, t := range [][]float64{r.Speed.T, r.Rough.T, r.Cycles.T} {
		for i := range t {
			t[i] += best.T[0]
		}
	}
	return r, err
}

// leastAxis is how much of the power of the strongest axis another must have to
// count: an engine rolls and bounces, and where one stands still the other may not
// (judgement).
const leastAxis = 0.1

// motionAlike: at the speeds of firings an engine shakes as a whole (judgement).
const motionAlike = 0.08

// motionSways: an engine rocks on its mounts at some 8–12 Hz, where the half orders
// of an idle lie, with a damping ζ of a tenth of critical or so. On the flanks of a
// resonance the answer changes by 1/(2ζ) of a change of frequency (textbook); half of
// that, for not all harmonics lie there (judgement).
const motionSways = 2.0

// reachFiring is how near to half the sampling rate the firing order may lie.
const reachFiring = 0.9

// reachable says when the firing order is too fast for the samples: what is
// followed then is a mirror image.
func reachable(speed engine.RPM, l engine.Layout, rate float64) error {
	firing := speed.CycleHz() * float64(l.N())
	if firing <= reachFiring*rate/2 {
		return nil
	}
	return fmt.Errorf("motion: %d cylinders at %.0f rpm fire %.0f times a second, and %.0f samples a second follow %.0f at most: use sound, or an app that samples faster", l.N(), float64(speed), firing, rate, reachFiring*rate/2)
}

// even brings a track to equal spacing at a rate, by straight lines, over the times
// of another.
func even(t, over Track, rate float64) []float32 {
	mean := meanThere(t.Y)
	first := over.T[0]
	out := make([]float32, int((over.T[len(over.T)-1]-first)*rate)+1)
	r := reader{Track: t}
	for i := range out {
		out[i] = float32(r.at(first+float64(i)/rate) - mean)
	}
	return out
}

func variance(x []float64) (sum float64) {
	mean := meanThere(x)
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return sum
}
