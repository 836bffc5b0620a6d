package order

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"halforder/finding"
)

// voices are what is heard of a band beside a slot's own firing, as powers by
// place in the cycle: what sounds without any fire, and the tail of the firing
// before. Where a firing goes, its slot keeps both and the next one loses its tail.
type voices struct {
	fireless []float64
	tail     []float64
}

// What sounds of a working slot's power without any fire, what is the tail of the
// firing before, the rest its own; and how far a slot may be from that. Together
// the first two are what a dead cylinder leaves after one that fires, goneRest of
// the loudness. Judgement (prior).
var (
	voiceShares  = [3]float64{goneRest * goneRest / 2, goneRest * goneRest / 2, 1 - goneRest*goneRest}
	voiceSpreads = [3]float64{0.15, 0.3, 0.4}
)

// goneRest is how loud a cylinder without fire is, against the usual one: the
// middle of highRest.
const goneRest = 0.4

// How far the power of a slot is from its voices: everywhere, and for each of its
// own power, as the ways to the microphone differ. Judgement (prior).
const (
	voiceFloor = 0.05
	voiceError = 0.25
)

// voicesOf parts the power of a band, given its loudness by place, by slots that
// are known to work more or less: the dead ones let the others be heard alone.
func voicesOf(loudness []float64, starts []int, work []float64) voices {
	n := len(loudness)
	v := voices{make([]float64, n), make([]float64, n)}
	widest := 0
	for k := range starts {
		widest = max(widest, slotWidth(starts, k, n))
	}
	for d := range widest {
		var places []int
		var own, before []float64
		for k, start := range starts {
			if d < slotWidth(starts, k, n) {
				last := work[(k+len(work)-1)%len(work)]
				places, own, before = append(places, (start+d)%n), append(own, work[k]*work[k]), append(before, last*last)
			}
		}
		fireless, tail, firing := partPowers(loudness, places, own, before)
		for i, p := range places {
			all := fireless + tail*before[i] + firing*own[i]
			if all > 0 {
				share := loudness[p] * loudness[p] / all
				v.fireless[p], v.tail[p] = share*fireless, share*tail*before[i]
			}
		}
	}
	return v
}

// partPowers fits power = fireless + before·tail + own·firing at one place of the
// slot, by least squares about the prior.
func partPowers(loudness []float64, places []int, own, before []float64) (fireless, tail, firing float64) {
	var usual, weight float64
	for i, p := range places {
		usual, weight = usual+own[i]*loudness[p]*loudness[p], weight+own[i]
	}
	usual /= max(weight, 1e-9)
	if usual <= 0 {
		return 0, 0, 0
	}
	a, b := mat.NewSymDense(3, nil), mat.NewVecDense(3, nil)
	for i, s := range voiceSpreads {
		a.SetSym(i, i, 1/(s*s))
		b.SetVec(i, voiceShares[i]/(s*s))
	}
	for i, p := range places {
		x := loudness[p] * loudness[p] / usual
		precision := 1 / sq(complex(voiceFloor+voiceError*x, 0))
		row := [3]float64{1, before[i], own[i]}
		for j := range row {
			b.SetVec(j, b.AtVec(j)+precision*row[j]*x)
			for k := j; k < len(row); k++ {
				a.SetSym(j, k, a.At(j, k)+precision*row[j]*row[k])
			}
		}
	}
	var root mat.Cholesky
	var x mat.VecDense
	if !root.Factorize(a) || root.SolveVecTo(&x, b) != nil {
		return usual * voiceShares[0], usual * voiceShares[1], usual * voiceShares[2]
	}
	return usual * max(x.AtVec(0), 0), usual * max(x.AtVec(1), 0), usual * max(x.AtVec(2), 0)
}

// expectedWork is how much each slot is heard to do before a cut, by the views
// that name somebody.
func (t *table) expectedWork(byLow bool) []float64 {
	out, total := make([]float64, t.n), math.Inf(-1)
	log := map[finding.Pattern]float64{}
	for _, p := range namedPatterns(t.n) {
		low, high := t.both(t.bands(p))
		if byLow {
			high = low
		}
		log[p] = high + namedPrior(p)
		total = logAdd(total, log[p])
	}
	for p, v := range log {
		for k, w := range workOf(p) {
			out[k] += math.Exp(v-total) * w
		}
	}
	return out
}

// loudnessInCut is how loud each place should be in a cut: with every firing, with
// its own gone, and with the one before gone.
func (v voices) loudnessInCut(before []float64, g cutGains) (full, quiet, behind []float64) {
	for p, l := range before {
		silent := g.fireless * g.fireless * v.fireless[p]
		tail := g.fire * g.fire * v.tail[p]
		own := g.fire * g.fire * max(l*l-v.fireless[p]-v.tail[p], 0)
		full = append(full, math.Sqrt(silent+tail+own))
		quiet = append(quiet, math.Sqrt(silent+tail))
		behind = append(behind, math.Sqrt(silent+own))
	}
	return full, quiet, behind
}

// cutGains are by how much a band's loudness changes with a cut, of the firings that
// are left and of what sounds without fire.
type cutGains struct{ fire, fireless float64 }

// gainsOf compares the highest and the lowest of each cycle during with before:
// firings that are left are as loud as the engine now works, valves as before.
func (v voices) gainsOf(row, before []float64, cycle int, a0, a1, b0, b1 int) cutGains {
	low0, high0 := extremes(row[a0:a1], cycle)
	low1, high1 := extremes(row[b0:b1], cycle)
	if high0 <= low0 || high1 <= low1 {
		return cutGains{1, 1}
	}
	g := cutGains{1, min(max(low1/max(low0, 1e-30), leastFireless), mostFireless)}
	top := slices.Index(before, slices.Max(before))
	silent := v.fireless[top] / (before[top] * before[top])
	g.fire = math.Sqrt(max(high1*high1/(high0*high0)-g.fireless*g.fireless*silent, 0) / max(1-silent, 0.1))
	g.fire = min(max(g.fire, 0.5), 2)
	return g
}

// What sounds without fire changes little: a phone's gain control, the speed.
// Judgement.
const (
	leastFireless = 0.7
	mostFireless  = 1.2
)
