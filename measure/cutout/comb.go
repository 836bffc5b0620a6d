package cutout

import "math"

// When the number of cuts is known, they are looked for together, as a comb of
// pulses in a rhythm: what would not stand out alone does where the rhythm wants
// it. The prices are natural logarithms (judgement).
const (
	combStep      = 0.2  // s
	combPulse     = 7.0  // what a pulse must explain to be taken for a cut: noise does not
	combMost      = 40.0 // one pulse cannot outweigh all others
	combSteady    = 0.25 // spread of the time from cut to cut, share of it
	combOff       = 4.5  // most that a break of the rhythm costs
	combLength    = 0.3  // spread of the length, share of it
	combTempos    = 14
	combFills     = 0.12 // spread of the tempo against one that fills the recording
	combPauses    = 1.7  // from cut to cut at least, in lengths of a cut
	firstBaseline = 2.0  // s, before the first cut
)

var combLengths = []float64{1.5, 2.5, 4, 6, 10}

// pulse is the best cut beginning at one place.
type pulse struct{ score, length float64 }

// comb finds up to k cuts and says how much they explain.
func (m *model) comb(s shape, k int) (cuts []Cut, score float64) {
	z := m.matches(s)
	end := float64(len(z)) * combStep
	for _, length := range combLengths {
		pulses := pulsesOf(z, length)
		for i := range combTempos {
			slow := end / (float64(k) + 0.5) // as if the test filled the recording
			tempo := slow * math.Pow(0.35, float64(i)/(combTempos-1)) * 1.2
			if tempo < combPauses*length {
				continue
			}
			off := math.Log(tempo/slow) / combFills
			if found, v := bestComb(pulses, k, tempo, length); v-off*off/2 > score {
				cuts, score = found, v-off*off/2
			}
		}
	}
	for i := range cuts {
		cuts[i].Start += m.start
		cuts[i].End += m.start
	}
	return cuts, score
}

// matches is how well the answer of a cut fits at each combStep, in standard
// deviations.
func (m *model) matches(s shape) []float64 {
	t := m.template(s)
	noise := robustSigma(m.white)
	out := make([]float64, int(float64(len(m.white))*m.step/combStep)+1)
	for k := range m.white {
		if math.IsNaN(m.mask[k]) {
			continue
		}
		i := int(float64(k) * m.step / combStep)
		if v := t.match(m.white, k) / noise; math.Abs(v) > math.Abs(out[i]) {
			out[i] = v
		}
	}
	return out
}

// pulsesOf gives at each place the best pulse of about a length that begins
// there: a fall, and a rise to end it.
func pulsesOf(z []float64, length float64) []pulse {
	out := make([]pulse, len(z))
	from, to := int(length/1.6/combStep), int(1.6*length/combStep)
	for i, fall := range z {
		if fall <= 0 {
			continue
		}
		for j := i + max(from, 4); j <= min(i+to, len(z)-1); j++ {
			rise := -z[j]
			if rise <= 0 {
				continue
			}
			off := math.Log(float64(j-i)*combStep/length) / combLength
			unlike := math.Log(rise/fall) / 0.5
			v := math.Min((fall*fall+rise*rise)/2-unlike*unlike/2, combMost) - off*off/2 - combPulse
			if v > out[i].score {
				out[i] = pulse{v, float64(j-i) * combStep}
			}
		}
	}
	return out
}

// bestComb is the best row of k places in a tempo (Viterbi). A place without a
// pulse costs nothing: a dead cylinder's cut does not show.
func bestComb(pulses []pulse, k int, tempo, length float64) (cuts []Cut, score float64) {
	n := len(pulses)
	near, far := int(max(0.5*tempo, 1.1*length)/combStep), int(1.8*tempo/combStep)
	cost := make([]float64, far+1)
	for d := near; d <= far; d++ {
		off := math.Log(float64(d)*combStep/tempo) / combSteady
		cost[d] = math.Min(off*off/2, combOff)
	}
	best := make([]float64, n)
	back := make([][]int32, k)
	for i := range best {
		best[i] = pulses[i].score
		if float64(i)*combStep < firstBaseline {
			best[i] = math.Inf(-1)
		}
	}
	for j := 1; j < k; j++ {
		best, back[j] = nextTooth(best, pulses, cost, near, far)
	}
	at := 0
	for i := range best {
		if best[i] > best[at] {
			at = i
		}
	}
	score = best[at]
	for j := k - 1; j >= 0; j-- {
		if p := pulses[at]; p.score > 0 {
			start := (float64(at) + 0.5) * combStep
			cuts = append(cuts, Cut{Start: start, End: start + p.length})
		}
		if j > 0 {
			at = int(back[j][at])
		}
	}
	return byTime(cuts), score
}

// nextTooth goes on from the best rows so far by one cut.
func nextTooth(before []float64, pulses []pulse, cost []float64, near, far int) (best []float64, back []int32) {
	best, back = make([]float64, len(before)), make([]int32, len(before))
	for i := range best {
		best[i] = math.Inf(-1)
		for d := near; d <= min(far, i); d++ {
			if v := before[i-d] - cost[d]; v > best[i] {
				best[i], back[i] = v, int32(i-d)
			}
		}
		best[i] += pulses[i].score
	}
	return best, back
}
