package crank

import "math"

// placesTried is how many places of the compressions within an interval are tried.
const placesTried = 12

// searchCompressions is the fit whose place leaves least.
func (a *analysis) searchCompressions(cycle crankingCycle, miss float64) compressionFit {
	gap := cycleDeg / float64(a.setup.Layout.N())
	best := compressionFit{misfit: math.Inf(1)}
	for i := range placesTried {
		z := gap * float64(i) / placesTried
		if f := a.fitAt(cycle, z, gap/placesTried, misses{0, miss}, nil); f.misfit < best.misfit {
			best = f
		}
	}
	return best
}

// surelyMisplaced is by how much the weighted squares left must fall, the
// compressions elsewhere, before a reference is not believed: half of it is the
// logarithm of the odds.
const surelyMisplaced = 15.0

// farBeside is how far from the references, of an interval, the compressions then
// stand: the model itself misplaces those of weak cylinders by up to two steps.
const farBeside = 2.4 / placesTried

// whereCompressed is the fit, or another that names nobody where the compressions
// stand elsewhere than the references put them: there a weak cylinder is called
// even.
func (a *analysis) whereCompressed(cycle crankingCycle, fit compressionFit) compressionFit {
	if a.how == anonymous {
		return fit
	}
	found := a.searchCompressions(cycle, shapeNoise)
	doubt := disagree(a.clock, a.setup.Layout, a.setup.References)
	if doubt == "" {
		doubt = a.misplaced(cycle, fit.zero, found)
	}
	if doubt == "" {
		return fit
	}
	a.nameNobody(doubt)
	return a.fitAt(cycle, found.zero, topSpread, misses{shapeNoise, shapeNoise}, nil)
}

// misplaced says in words that the compressions of an evenly firing engine stand
// elsewhere, empty where they do not or nobody can tell.
func (a *analysis) misplaced(cycle crankingCycle, zero float64, found compressionFit) string {
	l := a.setup.Layout
	gap := cycleDeg / float64(l.N())
	off := math.Remainder(found.zero-zero, gap)
	if !l.Even() || math.Abs(off) < farBeside*gap {
		return ""
	}
	given := a.fitAt(cycle, zero, gap/placesTried, misses{0, shapeNoise}, nil)
	if given.misfit-found.misfit < surelyMisplaced {
		return ""
	}
	return contradiction(a.clock, a.references(), "has its compressions", off)
}
