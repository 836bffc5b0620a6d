package order

import (
	"math"
	"sort"
)

const (
	firingParts  = 4 // parts of a firing whose loudness is compared
	aboutCycles  = 5 // to each side, against which a cycle is slow
	kindTries    = 5 // beginnings that are followed to the end
	fewestCycles = 40
)

// kinds are two kinds of cycles in a tape: in some, one firing misses. Which
// kind is which is told by loudness and speed: an engine that misses slows.
type kinds struct {
	chance []float64 // of a miss, by cycle
	proof  float64   // ln of two kinds to one, less the price of the means
	apart  float64   // distance of the two kinds, in spreads
	sign   float64   // how much slower and quieter the missing kind is, 1 for what a healthy engine shows by chance
	stay   transitions
	slot   int     // of the cycle that falls quiet most, counted from the first firing of the run
	left   float64 // of the energy of its firing
	rises  float64 // the same of the firing that gets loudest
	usual  float64 // and of the energy of the firing in the middle of all, itself
	first  int     // firing of the run that the first cycle begins with
}

// What one miss costs at least, judgement from inertia and fuel control of car
// engines: 1.2 % of speed over the cycle against those about it, 0.6 % against
// the one before, 6 % of loudness over the cycle and 4 % in the quietest
// firing, levelled over three cycles. Two of these are a sign.
const (
	slowSign    = 0.012
	slowingSign = 0.006
	faintSign   = 0.06
	quietSign   = 0.04
)

// twoKindsOfCycles looks for them in what is compared, starting from each
// firing's loudness and from the speed. Cycles begin with the firing they are
// best told apart from.
func (r *beatRun) twoKindsOfCycles(raw, x [][]float64, followed int) (kinds, kindFit) {
	var tries []kindFit
	var work kindWork
	for k := range r.n {
		for _, start := range r.guesses(raw, k) {
			f := newKindFit(x, r.n, k, start, &work)
			f.run(3)
			tries = append(tries, *f)
		}
	}
	sort.Slice(tries, func(i, j int) bool { return tries[i].proof > tries[j].proof })
	var best kinds
	var fit kindFit
	for i := range tries[:min(len(tries), followed)] {
		tries[i].run(25)
		k := r.named(&tries[i], raw)
		sure, before := k.sure(), best.sure()
		if i == 0 || sure && !before || sure == before && k.proof > best.proof {
			best, fit = k, tries[i]
		}
	}
	return best, fit
}

// named turns the kinds so that the slower and quieter one misses.
func (r *beatRun) named(f *kindFit, raw [][]float64) kinds {
	sign := r.sign(f, raw)
	if sign < 0 {
		sign = -sign
		f.swap()
	}
	slot, left, rises, usual := r.quieted(f.k, f.chance)
	return kinds{chance: f.chance, proof: f.proof, apart: f.distance(), sign: sign, stay: f.stay, slot: slot, left: left, rises: rises, usual: usual, first: f.k}
}

// features gives what is compared of each firing: loudness in parts by band,
// slowing, slowness.
func (r *beatRun) features() [][]float64 {
	loud := len(r.grid.rows) * firingParts
	out := matrix(max(len(r.begins)-1, 0), loud+2)
	for j := range out {
		a, b := r.begins[j], r.begins[j+1]
		x := out[j][:0]
		for _, row := range r.grid.rows {
			for p := range firingParts {
				var sum float64
				part := row[a+(b-a)*p/firingParts : a+(b-a)*(p+1)/firingParts]
				for _, v := range part {
					sum += float64(v)
				}
				x = append(x, sum/float64(max(len(part), 1)))
			}
		}
		out[j][loud], out[j][loud+1] = r.slowing(j), r.slowness(j)
	}
	return out
}

// frames between two firings.
func (r *beatRun) frames(from, to int) float64 {
	return r.grid.at[r.begins[to]] - r.grid.at[r.begins[from]]
}

// slowing is the logarithm of the cycle from a firing on against that before.
func (r *beatRun) slowing(j int) float64 {
	if j < r.n || j+r.n >= len(r.begins) {
		return 0
	}
	return math.Log(r.frames(j, j+r.n) / r.frames(j-r.n, j))
}

// slowness is the logarithm of the cycle from a firing on against those about.
func (r *beatRun) slowness(j int) float64 {
	if j+r.n >= len(r.begins) {
		return 0
	}
	from, to := max(0, j-aboutCycles*r.n), min(len(r.begins)-1, j+aboutCycles*r.n)
	return math.Log(r.frames(j, j+r.n) / r.frames(from, to) * float64(to-from) / float64(r.n))
}

// guesses start from how quiet firing k is in each cycle, from how it slows
// there, and from how slow it is.
func (r *beatRun) guesses(raw [][]float64, k int) [][]float64 {
	var quiet, slowing, slow []float64
	for j := k; j+r.n <= len(raw); j += r.n {
		v := raw[j]
		quiet, slowing, slow = append(quiet, -r.quiet[j]), append(slowing, -v[len(v)-2]), append(slow, -v[len(v)-1])
	}
	var out [][]float64
	for _, values := range [][]float64{quiet, slowing, slow} {
		m, ok := mixtureOf(values)
		if !ok {
			continue
		}
		for c, v := range values {
			values[c] = m.quiet(v)
		}
		out = append(out, values)
	}
	return out
}

// sign of the second kind against the first.
func (r *beatRun) sign(f *kindFit, raw [][]float64) float64 {
	change, d := f.effect(raw), len(raw[0])
	var total, peak, slowing, slow float64
	uppers := len(r.grid.rows) - 1
	for s := range f.n {
		var loud float64
		for i := firingParts; i < d-2; i++ {
			loud += change[s][i] * float64(r.grid.spread[i/firingParts]) / float64(firingParts*uppers)
		}
		total += loud
		if math.Abs(loud) > math.Abs(peak) {
			peak = loud
		}
		slowing += change[s][d-2] / float64(f.n)
		slow += change[s][d-1] / float64(f.n)
	}
	return slow/slowSign + slowing/slowingSign - total/faintSign - peak/quietSign
}
