package order

import (
	"fmt"
	"math"
	"math/cmplx"

	"halforder/engine"
	"halforder/finding"
)

// What a cut takes away is the shaking by one cylinder, whatever the mounts make
// of it; where in the cycle it stands, and the firing intervals, give the places
// of all. The mounts delay it: on simulated ones its middle comes half a firing to
// two after the top dead centre.

// loss is what motion lost with a cut.
type loss struct {
	cylinder engine.Cylinder
	before   []cycle
	pairs    []cutPair // by axis
	slips    []slip
	logs     []float64 // of each slip, over all patterns and gains
	most     []float64 // of the likeliest of those
	gains    []float64 // its gain
}

func newLoss(cylinder engine.Cylinder, before []cycle, pairs []cutPair, slips []slip) *loss {
	l := &loss{cylinder: cylinder, before: before, pairs: pairs, slips: slips,
		logs: make([]float64, len(slips)), most: make([]float64, len(slips)), gains: make([]float64, len(slips))}
	for i := range l.logs {
		l.logs[i], l.most[i] = math.Inf(-1), math.Inf(-1)
	}
	return l
}

// weigh takes the likelihood of a slip with a gain and a pattern.
func (l *loss) weigh(slip int, gain, log float64) {
	l.logs[slip] = logAdd(l.logs[slip], log)
	if log > l.most[slip] {
		l.most[slip], l.gains[slip] = log, gain
	}
}

const (
	lossGathered = 0.35 // resultant of the lost shaking below which it has no place in the cycle. Judgement
	lossClear    = 4.0  // times the noise that it must have
)

// place is where in the cycle the lost shaking stands, in cycles; ok is false
// where the cut took nothing clear away, or the phase may have slipped by a
// firing meanwhile.
func (l *loss) place(along []float64, n int) (at float64, ok bool) {
	var sum complex128
	weights, places := chances(l.logs), make([]complex128, len(l.slips))
	for i, s := range l.slips {
		places[i] = l.centre(along, s, l.gains[i])
		sum += complex(math.Exp(weights[i]), 0) * places[i]
	}
	at = cmplx.Phase(sum) / (2 * math.Pi)
	var near float64
	for i, w := range weights {
		if math.Abs(wrapHalf(cmplx.Phase(places[i])/(2*math.Pi)-at)) < 0.5/float64(n) {
			near += math.Exp(w)
		}
	}
	return at - math.Floor(at), near >= nameChance && cmplx.Abs(sum) >= lossGathered
}

// centre is where the power of the lost shaking stands in the cycle, as a
// complex number of size 1 when all of it is there at once; 0 for noise.
func (l *loss) centre(along []float64, s slip, gain float64) complex128 {
	var last, moment complex128
	var power, noise float64
	for h := range l.pairs[0].a {
		var lost complex128
		for a, p := range l.pairs {
			lost += complex(along[a], 0) * (p.a[h] - p.b[h]*s.turns[h]/complex(gain, 0))
			noise += along[a] * along[a] * (p.na[h] + p.nb[h]/gain/gain)
		}
		moment += last * cmplx.Conj(lost)
		power += sq(lost)
		last = lost
	}
	if power < lossClear*noise {
		return 0
	}
	return moment / complex(power, 0)
}

// feltMarks says for a run of cycles where each cylinder shakes, if a cut told.
func (h *heard) feltMarks(l *finding.Likelihood) (before []cycle, marks []finding.Mark, when string) {
	if l == nil || l.Anonymous {
		return nil, nil, ""
	}
	n := h.layout.N()
	for _, lost := range h.losses {
		at, ok := lost.place(shakiest(h.folded(lost.before).bands), n)
		if !ok {
			continue
		}
		first := h.layout.Angles()[h.layout.Position(lost.cylinder)]
		for k, a := range h.layout.Angles() {
			x := math.Mod(float64(engine.CycleDeg)*(at+1)+float64(a-first), float64(engine.CycleDeg))
			marks = append(marks, finding.Mark{X: x, Label: fmt.Sprintf("cyl %d", h.layout.At(k))})
		}
		return lost.before, marks, fmt.Sprintf(" before cylinder %d was cut", lost.cylinder)
	}
	return nil, nil, ""
}

// whoShakes says in a note what the marks mean.
func whoShakes(known bool) string {
	if known {
		return "the middle of each cylinder's shaking, some way after it fires"
	}
	return "which cylinder shakes where is not known"
}
