package order

import "math"

const (
	missTape    = 512   // cycles counted together
	restless    = 0.015 // phase errors, in cycles, from which cycles may be of two kinds: steady engines have some 0.01
	settling    = 8     // cycles until the lock's picture is any good
	tryCycles   = 96    // looked at first, where nothing else tells of two kinds
	missProof   = 40.0  // ln
	missApart   = 3.4   // spreads between kinds that are not one, stretched
	fewApart    = 60.0  // and so many more over the number of cycles: few of them part sooner
	missSign    = 3.5   // see kinds
	missDoubt   = 2.5   // and from which nobody is called healthy, if the rest holds
	leastMisses = 3.0   // cycles: one or two may be a stumble of the recording
)

// misses is how many cycles of a tape miss.
type misses struct {
	cycles int
	sure   bool // that there are two kinds, and that one of them misses
	always bool // beside those, a firing is missing in every cycle
	doubt  bool // not sure, but no engine to be called healthy
	share  float64
	err    float64 // to each side, at confidence
	bursts float64 // correlation of a miss with one in the next cycle
	atMost float64 // share where several firings seem to miss but stand too near those that are there to be counted; 0: no such
}

// countTape counts the misses of what is on the tape. An engine that turns and
// sounds alike in every cycle has none, or nothing else.
func (h *heard) countTape(uneven bool) misses {
	t := &h.tape
	m := misses{cycles: t.cycles()}
	if m.cycles < fewestCycles || len(t.rows) < 2 || h.layout.N() < 2 || h.motion {
		return m
	}
	steady, tried := !uneven && t.lateness() < restless, t
	if steady {
		tried = t.start(tryCycles)
	}
	r := tried.beats(h.layout)
	single := r.missingFirings()
	if steady && !single.sure && !single.doubt {
		return m // not worth the costly question
	}
	if tried != t {
		r = t.beats(h.layout)
		single = r.missingFirings()
	}
	if single.sure {
		return single
	}
	m.doubt = single.doubt
	k := r.missesOfAll()
	if r.slipped(k) {
		m.doubt = true // what a place of the cycle holds is not known
		return m
	}
	if len(k.chance) == 0 {
		return m
	}
	counted := k.count(m.cycles)
	counted.doubt = counted.doubt || m.doubt && !counted.sure
	return counted.upTo(single.atMost)
}

// upTo widens what was counted of one firing to what several may miss together.
func (m misses) upTo(share float64) misses {
	if m.sure && share > m.share+m.err {
		more := (share - m.share) / 2
		m.share, m.err = m.share+more, m.err+more
	}
	return m
}

// proven reports whether there are two kinds for sure, whatever they are.
func (k kinds) proven() bool {
	n := float64(len(k.chance))
	if n == 0 {
		return false
	}
	fewer := min(mean(k.chance), 1-mean(k.chance)) * n
	return k.proof >= missProof && fewer >= leastMisses
}

// parted reports whether they stand apart, not a cloud cut in two.
func (k kinds) parted() bool { return k.apart >= missApart+fewApart/float64(len(k.chance)) }

// comesAndGoes reports whether misses come several times. In one go they must last,
// and so must what is beside them, and leave the other firings about as loud: what
// makes all of them quiet is an engine that is switched off, or the recorder, and
// that runs down in less.
func (k kinds) comesAndGoes() bool {
	n := float64(len(k.chance))
	missed := mean(k.chance) * n
	lasts := min(missed, n-missed) >= lastingCycles
	return gaps(k.chance) >= leastMisses || lasts && k.usual >= othersLeft && k.usual <= 1/othersLeft
}

const (
	othersLeft    = 0.6  // of the energy of the other firings, left by a miss at least. Judgement
	lastingCycles = 30.0 // some 4 s at idle, longer than an engine takes to run down. Judgement
)

// sure reports whether one of the kinds misses.
func (k kinds) sure() bool {
	return k.proven() && k.parted() && k.comesAndGoes() && (k.sign >= missSign && k.quiets() || k.quietAlone())
}

// count weighs whether the kinds are two, and counts.
func (k kinds) count(cycles int) misses {
	m := misses{cycles: cycles, share: mean(k.chance), sure: k.sure()}
	m.doubt = k.proven() && !m.sure && (k.parted() && k.quiets() && k.sign >= missDoubt || k.left <= plainLeft && k.sign >= 2*missDoubt)
	m.err = missError + missBlur/(k.apart*k.apart)
	m.bursts = k.stay[1][1] - k.stay[0][1]
	return m
}

// The share's error: of the beats that were counted wrongly, and of the two
// kinds running into each other. Found on practice engines and synthetic
// sounds, see tools/hearing -only misses.
const (
	missError = 0.02
	missBlur  = 0.6
)

// joinMisses joins those of several tapes of which it is sure.
func joinMisses(parts []misses) misses {
	var out misses
	var sure, square float64
	for _, m := range parts {
		out.cycles += m.cycles
		out.doubt, out.always = out.doubt || m.doubt, out.always || m.always
		if !m.sure {
			continue
		}
		w := float64(m.cycles)
		out.sure, sure = true, sure+w
		out.share += m.share * w
		out.bursts += m.bursts * w
		square += m.err * m.err * w
	}
	if out.sure {
		out.share, out.bursts, out.err = out.share/sure, out.bursts/sure, math.Sqrt(square/sure)
	}
	return out
}

func (m misses) interval() (low, high float64) {
	return max(0, m.share-m.err), min(1, m.share+m.err)
}

// words say how the misses come.
func (m misses) words() string {
	switch {
	case !m.sure:
		return "steadily"
	case m.bursts > burstSign:
		return "now and then, in bursts"
	}
	return "now and then, at random"
}

// burstSign is the correlation of neighbouring cycles that makes a burst.
const burstSign = 0.4
