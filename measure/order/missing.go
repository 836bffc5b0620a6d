package order

import (
	"math"
	"slices"
)

const (
	missingApart = 6.0  // spreads between firings that are there and that are missing. Judgement
	severalApart = 4.0  // the same where several places of the cycle miss: one alone is told better by its cycles. Judgement
	doubtApart   = 2.0  // and from which nobody is called healthy: steady engines reach 2.7, yet none of their firings falls quiet. Judgement
	doubtProof   = 10.0 // and ln of two kinds of firings to one
	doubtShare   = 0.03 // of the firings, if so many are quiet
	missingLeast = 6    // gaps: fewer may be stumbles of the recording. Judgement
	alwaysShare  = 0.97 // of the cycles, from which a firing is missing always
)

// missingFirings counts by single firings, where those that are there and those
// that are missing stand clearly apart: whichever of the cycle they are, and
// however many. Missing ones look more like silence than like a firing.
func (r *beatRun) missingFirings() misses {
	cycles := len(r.quiet) / r.n
	out := misses{cycles: cycles}
	m, ok := missingMixture(r.quiet)
	apart := (m.misses - m.fires) / m.spread
	if !ok || apart < doubtApart || m.proof(r.quiet) < doubtProof {
		return out
	}
	chance := r.chancesByPlace(m)
	some := r.nowAndThen(chance)
	now := r.quietedOf(some, chance)
	quiet := r.quietNow(chance, now)
	out.doubt = quiet >= max(doubtShare*float64(len(chance)), leastMisses)
	least, lazy := missingApart, r.lazy(now, chance)
	if len(lazy) > 1 {
		least, out.atMost = severalApart, mean(r.anyOf(lazy, chance))
	}
	if m.fires >= 0 || m.misses <= 0 || apart < least || m.proof(r.quiet) < missProof {
		return out
	}
	out.always = len(some) < r.n
	missed := r.anyOf(now, chance)
	out.share, out.err = mean(missed), missError+missBlur/(apart*apart)
	out.sure = quiet >= missingLeast && gaps(chance) >= missingLeast && !r.silences(chance)
	out.bursts = correlation(missed[:cycles-1], missed[1:])
	return out
}

// missingMixture parts what there is much of from the few above it.
func missingMixture(quiet []float64) (mixture, bool) {
	sorted := slices.Clone(quiet)
	slices.Sort(sorted)
	n := len(sorted)
	m := mixture{fires: sorted[n/5], misses: sorted[n*49/50], share: 0.2}
	m.spread = max((m.misses-m.fires)/4, 1e-6)
	return m.fitted(quiet)
}

// chancesByPlace are those of a miss, by firing. Every place of the cycle misses as
// often as its own firings say: where one cylinder misses often, the others do not
// share in it.
func (r *beatRun) chancesByPlace(m mixture) []float64 {
	out := make([]float64, len(r.quiet))
	for s := range r.n {
		own := m
		for range emRounds {
			sum, count := 0.0, 0.0
			for j := s; j < len(out); j += r.n {
				out[j] = own.quiet(r.quiet[j])
				sum, count = sum+out[j], count+1
			}
			own.share = min(max(sum/max(count, 1), rarestMiss), 1-rarestMiss)
		}
	}
	return out
}

// rarestMiss keeps the share of misses of a place from 0 and 1, from which no firing
// could bring it back.
const rarestMiss = 1e-4

// quietNow is how many of some firings of the cycle are quiet.
func (r *beatRun) quietNow(chance []float64, firings []int) (sum float64) {
	for _, s := range firings {
		for j := s; j < len(chance); j += r.n {
			sum += chance[j]
		}
	}
	return sum
}

// anyOf is the chance, by cycle, that a firing at any of some places is missing.
func (r *beatRun) anyOf(places []int, chance []float64) []float64 {
	out := make([]float64, len(chance)/r.n)
	for c := range out {
		fires := 1.0
		for _, s := range places {
			fires *= 1 - chance[c*r.n+s]
		}
		out[c] = 1 - fires
	}
	return out
}

// lazy lists those of some places of the cycle that miss more than now and then.
func (r *beatRun) lazy(places []int, chance []float64) []int {
	var out []int
	for _, s := range places {
		if r.quietNow(chance, []int{s}) >= max(doubtShare*float64(len(chance)/r.n), leastMisses) {
			out = append(out, s)
		}
	}
	return out
}

// nowAndThen lists the firings of the cycle that are there in some cycles.
func (r *beatRun) nowAndThen(chance []float64) []int {
	var out []int
	for s := range r.n {
		var sum, count float64
		for j := s; j < len(chance); j += r.n {
			sum, count = sum+chance[j], count+1
		}
		if sum < alwaysShare*count {
			out = append(out, s)
		}
	}
	return out
}

// gaps counts the quiet ones of firings or cycles, those in a row once: an engine
// that is switched off, or a recorder that stops, is one gap however long.
func gaps(chance []float64) (n int) {
	quiet := false
	for _, q := range chance {
		if q > 0.5 && !quiet {
			n++
		}
		quiet = q > 0.5
	}
	return n
}

// silences reports whether most of what is missing is whole cycles: the recorder
// or the whole engine was quiet.
func (r *beatRun) silences(chance []float64) bool {
	var all, long float64
	run := 0
	for j, q := range chance {
		all += q
		if q > 0.5 {
			run++
		}
		if q <= 0.5 || j+1 == len(chance) {
			if run >= r.n {
				long += float64(run)
			}
			run = 0
		}
	}
	return long > math.Max(all/2, 1)
}
