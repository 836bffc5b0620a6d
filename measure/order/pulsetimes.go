package order

import "math"

const (
	pulseReach = perSlot / 12 // points earlier or later than usual: a burn some degrees late, a way some tenths of a metre longer
	pulseThere = 0.85         // of the usual likeness from which there is a pulse to have a time of its own. Judgement
)

// seekPulses finds how late the pulse of each firing comes, so that it is not taken
// for faint. A faint one, and one that is not within reach, is sought where it
// should be.
func (c *cut) seekPulses(activity []float64) {
	for k := range c.starts {
		if c.likeness(activity, k, 0) >= c.norm {
			continue // it stands where it should, or loud enough
		}
		best, late := math.Inf(-1), 0
		for d := -pulseReach - 1; d <= pulseReach+1; d++ {
			if s := c.likeness(activity, k, d); s > best {
				best, late = s, d
			}
		}
		if late >= -pulseReach && late <= pulseReach && best >= pulseThere*c.norm {
			c.late[k] = late
		}
	}
}

// begin is where a slot begins when its pulse comes late by some points.
func (c cut) begin(k, late, points int) int { return (c.starts[k] + late + points) % points }

// likeness of a slot to the usual one.
func (c cut) likeness(activity []float64, k, late int) (sum float64) {
	start := c.begin(k, late, len(activity))
	for i, d := range c.shape {
		sum += d * (activity[(start+i)%len(activity)] - c.base)
	}
	return sum
}
