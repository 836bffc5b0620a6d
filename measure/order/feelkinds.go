package order

import (
	"math"
	"math/cmplx"
	"sort"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"halforder/engine"
)

const (
	kindPoints  = 24   // of a cycle at most, at which the motion is compared
	kindLines   = 8    // ways in which cycles differ that are looked at
	kindSpeed   = 0.15 // ratio to the usual speed up to which a cycle counts: a blip is no other kind
	kindStarts  = 3    // ways from which the two kinds are sought
	shakeGap    = 1.5  // points of the cycle without a sample, from which it is left out
	memoryRidge = 0.05 // share of the variance that holds the memory of the mounts small
	rougherSign = 1.6  // times as rough as the other the missing kind is
	roughLeast  = 0.25 // of what one dead cylinder makes of the half orders beside the firing order
	recovery    = 1.5  // s after a cut
	shakenProof = 8.0  // ln of two kinds to one; engines without misses reach 3
	shakenDoubt = 0.0  // and from which nobody is called healthy
	shakenApart = 3.0  // spreads
	alikeLeast  = 0.5  // share of the power that cycles of an engine have in common: 0.55 and more at 100 Hz, 0.8 at 200
	alikeNone   = 0.2  // and below which the speed is not the engine's: 0.1 and less
	shakenLeast = 10   // points of a cycle, below which a miss has no shape
)

// shakenCycles is a motion cut into cycles, each the three axes at the same
// points of the cycle.
type shakenCycles struct {
	points int
	rows   [][]float64 // by cycle, axis by axis; nil where the recording has a gap
}

// cutCycles reads the motion along a pace from a part of a cycle on, without
// cycles near a cut.
func (m *motion) cutCycles(p pace, from float64, cuts []Cut) shakenCycles {
	out := shakenCycles{points: min(kindPoints, int(m.rate/p.hz()))}
	if out.points < shakenLeast {
		return out
	}
	usual := p.hz()
	for c := 0; c+1 < p.cycles(); c++ {
		var row []float64
		for i := range out.points {
			x := from + (float64(i)+0.5)/float64(out.points)
			k := c + int(x)
			t := p.starts[k] + (x-math.Floor(x))*(p.starts[k+1]-p.starts[k])
			v, ok := m.near(t, 1/usual/float64(out.points))
			if !ok {
				row = nil
				break
			}
			row = append(row, v[:]...)
		}
		length := p.starts[c+1] - p.starts[c]
		if math.Abs(math.Log(length*usual)) > kindSpeed || nearCut(cuts, p.starts[c], length) {
			row = nil
		}
		out.rows = append(out.rows, row)
	}
	return out
}

// nearCut reports whether a cycle lies in a cut, or so soon after that the engine
// still recovers.
func nearCut(cuts []Cut, start, length float64) bool {
	for _, c := range cuts {
		if start+length > c.From && start < c.To+recovery {
			return true
		}
	}
	return false
}

// near is the mean of the samples within a step around a time, or what lies
// between its neighbours.
func (m *motion) near(t, step float64) (v [3]float64, ok bool) {
	from, to := sort.SearchFloat64s(m.t, t-step/2), sort.SearchFloat64s(m.t, t+step/2)
	for i := from; i < to; i++ {
		for a := range v {
			v[a] += m.x[a][i] / float64(to-from)
		}
	}
	if to > from {
		return v, true
	}
	if from == 0 || from == len(m.t) || m.t[from]-m.t[from-1] > (1+shakeGap)*step {
		return v, false
	}
	part := (t - m.t[from-1]) / (m.t[from] - m.t[from-1])
	for a, row := range m.x {
		v[a] = row[from-1] + part*(row[from]-row[from-1])
	}
	return v, true
}

// shakenKinds are two kinds of cycles in a motion, and how rough each would be
// if all were of it.
type shakenKinds struct {
	kinds
	rough [2]float64
	alike float64 // share of the power that all cycles have in common
}

// kindsOfCycles looks for two kinds of cycles, of which one misses: the mounts
// ring on into the next cycle, so what each adds anew is compared. A cycle may
// begin with any firing; where it begins with the one that misses, the kinds
// stand furthest apart.
func (m *motion) kindsOfCycles(p pace, config Config) (best shakenKinds) {
	for k := range config.Layout.N() {
		from := float64(config.Layout.Angles()[k] / engine.CycleDeg)
		if next := m.cutCycles(p, from, config.Cuts).twoKinds(config.Layout); next.better(best) {
			best = next
		}
	}
	return best
}

// likeness is the share of the power that the cycles along a pace have in common,
// and how many of them miss, part by part. Both follow the lowest order of the
// firings; where it is out of reach, nothing is known: NaN.
func (m *motion) likeness(p pace, config Config) (alike float64, counted []misses) {
	lowest := float64(lowestNatural(config.Layout))
	if config.Layout.N() < 2 || p.cycles() < fewestCycles || lowest*p.hz() > reachShare*m.rate {
		return math.NaN(), nil
	}
	p = m.beaten(p, config.Layout)
	parts := (p.cycles() + missTape - 1) / missTape
	for i := range parts {
		from, to := i*p.cycles()/parts, (i+1)*p.cycles()/parts
		k := m.kindsOfCycles(pace{p.starts[from : to+1], p.scores[from:to]}, config)
		if len(k.chance) == 0 {
			return math.NaN(), nil
		}
		alike += k.alike / float64(parts)
		counted = append(counted, k.misses(to-from))
	}
	return alike, counted
}

// misses weighs whether the kinds are two and one of them misses.
func (k shakenKinds) misses(cycles int) misses {
	out := misses{cycles: cycles}
	n := float64(len(k.chance))
	if n == 0 {
		return out
	}
	out.share = mean(k.chance)
	proven := k.proof >= shakenProof && k.alike >= alikeLeast && min(out.share, 1-out.share)*n >= leastMisses
	out.sure = proven && k.apart >= shakenApart && k.rough[1] >= rougherSign*k.rough[0] && k.rough[1] >= roughLeast
	out.doubt = k.proof >= shakenDoubt && !out.sure
	out.err = missError + missBlur/(k.apart*k.apart) + 1.645*math.Sqrt(out.share*(1-out.share)/n)/2
	out.bursts = k.stay[1][1] - k.stay[0][1]
	return out
}

func (k shakenKinds) better(o shakenKinds) bool {
	return len(k.chance) > 0 && (len(o.chance) == 0 || k.apart*math.Sqrt(max(k.proof, 0)) > o.apart*math.Sqrt(max(o.proof, 0)))
}

// twoKinds of the cycles.
func (s shakenCycles) twoKinds(layout engine.Layout) (best shakenKinds) {
	ways := s.ways()
	if ways == nil {
		return best
	}
	anew, memory := ways.innovations()
	if len(anew) < fewestCycles {
		return best
	}
	x := whitened(anew, 1)
	var work kindWork
	for w := range min(kindStarts, len(x[0])) {
		values := column(x, w)
		mix, ok := mixtureOf(values)
		if !ok {
			continue
		}
		for c, v := range values {
			values[c] = mix.quiet(v)
		}
		f := newKindFit(x, 1, 0, values, &work)
		f.run(25)
		next := shakenKinds{kinds: kinds{chance: f.chance, proof: f.proof, apart: f.distance(), stay: f.stay}}
		if next.better(best) {
			next.rough, next.alike = ways.roughness(anew, memory, f.chance, layout), ways.alike
			if next.rough[0] > next.rough[1] { // the rougher kind misses
				f.swap()
				next.rough[0], next.rough[1], next.stay = next.rough[1], next.rough[0], f.stay
			}
			best = next
		}
	}
	return best
}

// shakenWays are the few ways in which the cycles differ most.
type shakenWays struct {
	points int
	mean   []float64
	along  [][]float64 // the ways
	x      [][]float64 // by cycle and way; nil for those left out
	alike  float64     // share of the power that all cycles have in common
}

func (s shakenCycles) ways() *shakenWays {
	if s.points < shakenLeast {
		return nil
	}
	d := 3 * s.points
	w := &shakenWays{points: s.points, mean: make([]float64, d)}
	n := 0.0
	for _, r := range s.rows {
		for i, v := range r {
			w.mean[i] += v
		}
		if r != nil {
			n++
		}
	}
	if n < fewestCycles {
		return nil
	}
	for i := range w.mean {
		w.mean[i] /= n
	}
	covariance := mat.NewSymDense(d, nil)
	rest := make([][]float64, len(s.rows))
	for c, r := range s.rows {
		if r == nil {
			continue
		}
		rest[c] = make([]float64, d)
		for i, v := range r {
			rest[c][i] = v - w.mean[i]
		}
		covariance.SymRankOne(covariance, 1/n, mat.NewVecDense(d, rest[c]))
	}
	common := floats.Dot(w.mean, w.mean)
	w.alike = common / (common + mat.Trace(covariance) + 1e-30)
	var eigen mat.EigenSym
	if !eigen.Factorize(covariance, true) {
		return nil
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	for k := range kindLines {
		w.along = append(w.along, mat.Col(nil, d-1-k, &vectors))
	}
	w.x = make([][]float64, len(rest))
	for c, r := range rest {
		if r == nil {
			continue
		}
		for _, a := range w.along {
			var sum float64
			for i, v := range r {
				sum += v * a[i]
			}
			w.x[c] = append(w.x[c], sum)
		}
	}
	return w
}

// innovations are what each cycle has that those before do not explain: x_c −
// A·x_{c−1}, A by least squares.
func (w *shakenWays) innovations() (anew [][]float64, memory *mat.Dense) {
	d := len(w.along)
	var now, before []float64
	for c := 1; c < len(w.x); c++ {
		if w.x[c] != nil && w.x[c-1] != nil {
			now, before = append(now, w.x[c]...), append(before, w.x[c-1]...)
		}
	}
	n := len(now) / d
	if n < fewestCycles {
		return nil, nil
	}
	y, x := mat.NewDense(n, d, now), mat.NewDense(n, d, before)
	var xx, xy, solved mat.Dense
	xx.Mul(x.T(), x)
	for i := range d {
		xx.Set(i, i, xx.At(i, i)*(1+memoryRidge)+1e-12)
	}
	xy.Mul(x.T(), y)
	if solved.Solve(&xx, &xy) != nil {
		return nil, nil
	}
	memory = mat.DenseCopyOf(solved.T())
	var left mat.Dense
	left.Mul(x, &solved)
	left.Sub(y, &left)
	for i := range n {
		anew = append(anew, mat.Row(nil, i, &left))
	}
	return anew, memory
}

// roughness is what the half orders would be against the firing order, 1 for one
// dead cylinder, if all cycles were of one kind: that kind's part of what comes
// anew, and what the mounts make of it in the long run, (1 − A)⁻¹.
func (w *shakenWays) roughness(anew [][]float64, memory *mat.Dense, chance []float64, layout engine.Layout) (rough [2]float64) {
	d := len(w.along)
	open := mat.NewDense(d, d, nil)
	for i := range d {
		for k := range d {
			open.Set(i, k, -memory.At(i, k))
		}
		open.Set(i, i, 1+open.At(i, i))
	}
	for kind := range rough {
		sum, weight := make([]float64, d), 1e-9
		for c, v := range anew {
			q := chance[c]
			if kind == 0 {
				q = 1 - q
			}
			weight += q
			for i := range sum {
				sum[i] += q * v[i]
			}
		}
		for i := range sum {
			sum[i] /= weight
		}
		var settled mat.VecDense
		if settled.SolveVec(open, mat.NewVecDense(d, sum)) != nil {
			return [2]float64{}
		}
		wave := append([]float64(nil), w.mean...)
		for i, a := range w.along {
			for k, v := range a {
				wave[k] += settled.AtVec(i) * v
			}
		}
		rough[kind] = roughOf(wave, w.points, layout)
	}
	return rough
}

// roughOf is the odd harmonics of a cycle of three axes against the strongest
// natural one, times N − 1.
func roughOf(wave []float64, points int, layout engine.Layout) float64 {
	var odd, natural float64
	n := layout.N()
	for h := 1; h < points/2; h++ {
		var power float64
		for a := range 3 {
			var sum complex128
			for i := range points {
				sum += complex(wave[3*i+a], 0) * cmplx.Rect(1, -2*math.Pi*float64(h*i)/float64(points))
			}
			power += sq(sum)
		}
		switch {
		case absPhasor(layout, h) >= naturalLine*float64(n):
			natural = max(natural, power)
		case h%2 == 1:
			odd = max(odd, power)
		}
	}
	return math.Sqrt(odd/max(natural, 1e-30)) * float64(n-1)
}
