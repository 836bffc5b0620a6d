package order

// Steps of a walk, or a hand that shakes, have harmonics as an engine has, and
// some of them fit one. But what shakes then repeats only after two or three of
// its would-be cycles, and no engine does that.
const (
	slowerLines = 3    // of the would-be cycle that are looked at
	slowerShare = 0.15 // of the power, in lines between those of the cycle. Judgement
	slowerLeast = 12   // blocks
	slowerClear = 8.0  // power of a line over the variance of its mean from which it counts
)

// repeatsSlower reports whether the motion repeats after two or three cycles of
// a course only.
func (m *motion) repeatsSlower(c course) bool {
	for _, times := range []int{2, 3} {
		slow := c.times(1/float64(times), trySeconds)
		top := min(slowerLines*times, reachOf(m.rate, slow.hz()))
		if top < times {
			continue
		}
		length := lengthOf(m.rate, slow.hz(), top)
		blocks, _ := m.aligned(slow.pace(), fit{times, 1, top, length, top, tryRounds})
		if len(blocks) >= slowerLeast && powerBetween(blocks, len(m.x), top, times) > slowerShare {
			return true
		}
	}
	return false
}

// powerBetween is the share of the power in the lines that are no multiples.
func powerBetween(blocks []cycle, axes, top, times int) float64 {
	var between, all float64
	for h := 1; h <= top; h++ {
		var power, noise float64
		for a := range axes {
			p := fold(blocks, a, top)
			power, noise = power+sq(p.mean[h-1]), noise+p.noise[h-1]
		}
		all += max(power-noise, 0)
		if h%times != 0 && power > slowerClear*noise {
			between += power - noise
		}
	}
	return between / max(all, 1e-300)
}
