package cutout

import (
	"math"
	"math/rand/v2"
	"slices"

	"halforder/engine"
)

// Unit is what one cut takes: one cylinder, or the pair of a wasted-spark coil.
type Unit []engine.Cylinder

// Units lists what can be cut one by one, in number order.
func Units(l engine.Layout, pairs bool) []Unit {
	if !pairs {
		var out []Unit
		for _, c := range l.Cylinders() {
			out = append(out, Unit{c})
		}
		return out
	}
	var out []Unit
	seen := map[engine.Cylinder]bool{}
	for _, c := range l.Cylinders() {
		u := Unit{c}
		if mate, ok := l.Companion(c); ok {
			u = Unit{min(c, mate), max(c, mate)}
		}
		if !seen[c] {
			out = append(out, u)
		}
		for _, x := range u {
			seen[x] = true
		}
	}
	return out
}

// ABBA is the order that cancels any drift in a straight line: forwards, then
// backwards.
func ABBA(units []Unit) []Unit {
	out := slices.Clone(units)
	back := slices.Clone(units)
	slices.Reverse(back)
	return append(out, back...)
}

// Shuffled is a random order: it turns drift into noise of which nobody can
// guess the sign.
func Shuffled(units []Unit, rng *rand.Rand) []Unit {
	out := slices.Clone(units)
	rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// Proposal is what to do next.
type Proposal struct {
	Done   bool    `json:"done"`
	Cut    Unit    `json:"cut,omitempty"`
	Why    string  `json:"why"`
	Doubt  float64 `json:"doubt"`  // that remains, expected number of wrong verdicts if one stopped now
	Useful float64 `json:"useful"` // expected fall of the doubt by this cut
}

// Planning limits.
const (
	mostRepeats = 4 // cuts of one unit
)

// Next says which unit to cut now, given what the test has shown so far. Each
// unit is cut once, in a random order against drift (seeded, so that the same
// test proposes the same order); then those are confirmed that
// seem weak or dead, and only those repeated whose verdict stands in doubt, the
// most doubtful first, never the same one twice running.
// It ends when nobody is in doubt, or repeats no longer help.
func Next(r Result, units []Unit, done []Unit, seed uint64) Proposal {
	rng := rand.New(rand.NewPCG(seed, 0xc07))
	for _, u := range Shuffled(units, rng) {
		if countUnit(done, u) == 0 {
			return Proposal{Cut: u, Why: "Not cut yet.", Doubt: doubtOf(r)}
		}
	}
	for _, u := range units {
		if n := countUnit(done, u); n == 1 && accused(r, u) && (len(units) == 1 || !same(done[len(done)-1], u)) {
			return Proposal{Cut: u, Why: "Seen once only: confirm before anything is bought.", Doubt: doubtOf(r), Useful: unitDoubt(r, u) / 2}
		}
	}
	if len(openUnits(r, units)) == 0 {
		return Proposal{Done: true, Why: "Every cylinder is clear.", Doubt: doubtOf(r)}
	}
	best := Proposal{Done: true, Why: "More cuts of the same kind would not settle it: use another measure.", Doubt: doubtOf(r)}
	for _, u := range openUnits(r, units) {
		n := countUnit(done, u)
		if n >= mostRepeats || len(done) > 0 && len(units) > 1 && same(done[len(done)-1], u) && len(openUnits(r, units)) > 1 {
			continue
		}
		// A further look removes about 1/(n+1) of what noise left in doubt.
		if useful := unitDoubt(r, u) / float64(n+1); useful > best.Useful {
			best = Proposal{Cut: u, Why: "Its verdict is still in doubt.", Doubt: best.Doubt, Useful: useful}
		}
	}
	return best
}

// accused reports whether the test calls a cylinder of u weak or dead.
func accused(r Result, u Unit) bool {
	for _, c := range u {
		if int(c) <= len(r.Cylinders) && (r.Cylinders[c-1].Verdict == Weak || r.Cylinders[c-1].Verdict == Dead) {
			return true
		}
	}
	return false
}

// openUnits are those with a cylinder that cannot be told yet.
func openUnits(r Result, units []Unit) (out []Unit) {
	for _, u := range units {
		for _, c := range u {
			if int(c) <= len(r.Cylinders) && r.Cylinders[c-1].Verdict == CannotTell {
				out = append(out, u)
				break
			}
		}
	}
	return out
}

func countUnit(done []Unit, u Unit) (n int) {
	for _, d := range done {
		if same(d, u) {
			n++
		}
	}
	return n
}

func same(a, b Unit) bool { return slices.Equal(sorted(a), sorted(b)) }

// doubtOf is the expected number of wrong verdicts if each cylinder got its
// likeliest one.
func doubtOf(r Result) (sum float64) {
	for _, c := range r.Cylinders {
		sum += c.doubt()
	}
	return sum
}

// doubt that matters: weak or dead is one question less than good or bad.
func (c Cylinder) doubt() float64 {
	bad := c.PWeak + c.PDead
	return math.Min(bad, c.PWorks) + 0.05*math.Min(c.PWeak, c.PDead)
}

func unitDoubt(r Result, u Unit) (sum float64) {
	for _, c := range u {
		if int(c) <= len(r.Cylinders) {
			sum += r.Cylinders[c-1].doubt()
		}
	}
	return sum
}

// DoneUnits lists the units cut so far, in order, from marks.
func DoneUnits(marks []Mark) (out []Unit) {
	for _, m := range marks {
		if !m.On && len(m.Cylinders) > 0 {
			out = append(out, Unit(m.Cylinders))
		}
	}
	return out
}
