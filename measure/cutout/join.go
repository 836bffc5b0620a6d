package cutout

import "slices"

// Join makes one recording of two of the same test, on the clock of the first,
// and says how much later than the first the second's clock was started, in
// seconds: the moments at which the speed rises and falls tell. A measured speed
// goes before one that was heard, which can be lost in a deep cut; of two of a
// kind it is the mean, the noisier counting less. What the idle control does is
// taken from both, roughness and cycles from the first that has them. Two
// recordings that do not show the same engine are an error.
func Join(a, b Recording) (Recording, float64, error) {
	for _, r := range []Recording{a, b} {
		if err := r.Check(); err != nil {
			return a, 0, err
		}
	}
	late, err := lateness(a.Speed, b.Speed)
	if err != nil {
		return a, 0, err
	}
	b = b.shifted(late)
	switch {
	case a.Heard == b.Heard:
		a.Speed = meanSpeed(a.Speed, b.Speed)
	case a.Heard:
		a.Speed, a.Heard = b.Speed.andBeyond(a.Speed), false
	default:
		a.Speed = a.Speed.andBeyond(b.Speed)
	}
	a.Efforts = append(slices.Clip(a.Efforts), b.Efforts...)
	if len(a.Rough.T) == 0 {
		a.Rough = b.Rough
	}
	if len(a.Cycles.T) == 0 {
		a.Cycles = b.Cycles
	}
	return a, late, nil
}

// shifted is the recording on a clock that was started earlier by late seconds.
func (r Recording) shifted(late float64) Recording {
	move := func(t []float64) []float64 {
		out := slices.Clone(t)
		for i := range out {
			out[i] += late
		}
		return out
	}
	r.Speed.T, r.Rough.T, r.Cycles.T = move(r.Speed.T), move(r.Rough.T), move(r.Cycles.T)
	r.Efforts = slices.Clone(r.Efforts)
	for i := range r.Efforts {
		r.Efforts[i].T = move(r.Efforts[i].T)
	}
	return r
}
