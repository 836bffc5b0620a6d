package belief

import (
	"halforder/reason/fault"
)

// effect is what one piece of evidence can tell of one fault. Two faults with
// equal effects are the same to it; that is what makes the posterior fast.
type effect struct {
	touched mask // cylinders touched, as far as the evidence can see
	states  fault.States
	rows    [2]row  // answers while showing and while resting; none: by state
	blurred bool    // an unlisted cause: its answers are spread
	spark   bool    // the cylinder is dead for want of spark
	nowhere bool    // not a misfire: answers only for the whole engine
	weak    pattern // of a finding: the touched cylinders all weak
	group   int32   // of a finding: number of the touched set
	after   mask    // of a swap: cylinders touched afterwards
	between float64
	contact float64
}

// row points to the chances of the outcomes; comparable.
type row struct{ p *[]float64 }

func (r row) none() bool { return r.p == nil }

// draw is a state of each of a set of faults.
type draws [3]int

// eachDraw calls f with every joint state of the effects that can be, and its
// chance.
func eachDraw(effects []effect, f func(d *draws, p float64)) {
	var d draws
	p := [4]float64{1}
	for i, k := 0, len(effects); ; {
		switch {
		case i == k:
			f(&d, p[k])
			if i--; i < 0 {
				return
			}
		case d[i] > fault.Dead: // all states of this one are through
			if d[i] = 0; i == 0 {
				return
			}
			i--
		default:
			if q := effects[i].states[d[i]]; q > 0 {
				p[i+1] = p[i] * q
				i++
				continue
			}
		}
		d[i]++
	}
}

// anyShows reports whether some cylinder misses in a draw.
func anyShows(effects []effect, d *draws) bool {
	for i := range effects {
		if d[i] != fault.Works && effects[i].touched != 0 {
			return true
		}
	}
	return false
}

// flags are the chances to note a miss that is there, and one that is not.
type flags struct{ hit, falseAlarm float64 }

// of is the chance of what was noted about the miss, given whether it showed.
func (f flags) of(noted Presence, shows bool) float64 {
	p := f.falseAlarm
	if shows {
		p = f.hit
	}
	switch noted {
	case Present:
		return p
	case Absent:
		return 1 - p
	}
	return 1
}

// given is the chance of a sighting under the effects, where what was noted of
// the miss is a circumstance and no evidence by itself.
func (f flags) given(noted Presence, effects []effect, chance func(*draws) float64) float64 {
	sum, norm := 0.0, 0.0
	eachDraw(effects, func(d *draws, p float64) {
		p *= f.of(noted, anyShows(effects, d))
		norm += p
		sum += p * chance(d)
	})
	return sum / norm
}
