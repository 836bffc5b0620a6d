package order

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// heardTape is the tape of a sound in which one firing of three misses now and then.
func heardTape(t *testing.T, s synth) *tape {
	t.Helper()
	rng := rand.New(rand.NewPCG(5, 5))
	s.slow = 0.05
	s.miss = func(_, position int) bool { return position == 1 && rng.Float64() < 0.3 }
	l := newListener(t, s)
	l.Write(s.sound())
	l.advance(true)
	return &l.heard.tape
}

// The table says of each value what the formula says of the middle of its step.
func TestGainsAreTheFormula(t *testing.T) {
	g, begins := heardTape(t, broken(t)).shapesSeen(t)
	s := g.shapeOf(begins)
	shapes := []beatShape{s, s.quieter(0, g.unit/2)}
	seeker := newBeatSeeker(g, len(shapes))
	seeker.everywhere(shapes)
	got := seeker.gains
	for k, shape := range shapes {
		for at := 0; at+g.unit <= len(g.at); at += 7 {
			if want := formula(g, shape, at); math.Abs(nats(got[k][at])-want) > 0.01 {
				t.Fatalf("shape %d at point %d: %.3f nats, want %.3f", k, at, nats(got[k][at]), want)
			}
		}
	}
}

func (t *tape) shapesSeen(tb testing.TB) (*beatGrid, []int) {
	tb.Helper()
	units, firings := unitOf(broken(tb).layout)
	g, first := t.follow(broken(tb).layout, units, firings*pointsOf(firings))
	return g, first.unitsBegin(units, g.unit)
}

func formula(g *beatGrid, s beatShape, at int) float64 {
	var sum float64
	for b := range g.rows {
		for i, m := range s.mean[b] {
			v := (float64(g.levels[b][at+i]) + 0.5 - levels/2) / levelSteps
			if raw := float64(g.rows[b][at+i]); math.Abs(raw) < 6 && math.Abs(raw-v) > 0.5001/levelSteps {
				return math.NaN()
			}
			d, inverse := v-float64(m), float64(s.inverse[b][i])
			sum += math.Log(inverse) + min(v*v, beatStray) - min(d*d*inverse, beatStray)
		}
	}
	return sum * beatTemper / 2
}

// No other way of cutting a short row into units scores more.
func TestBeatPathIsTheBest(t *testing.T) {
	const points = 44
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 3))
		score := make([]int32, points)
		for i := range score {
			score[i] = int32(rng.NormFloat64() * 3 * beatGrain)
		}
		p := newBeatPath(12, points)
		all := make([]int, points)
		for i := range all {
			all[i] = i
		}
		got := p.along(score, all)
		best := int32(math.MinInt32)
		for at := points - 12; at < points; at++ {
			for l := range p.lengths {
				best = max(best, bestTo(p, score, at, l))
			}
		}
		if value := valueOf(p, score, got); value != best {
			t.Errorf("seed %d: path %v scores %d, the best %d", seed, got, value, best)
		}
	}
}

// bestTo tries all ways to a point at the end of a unit.
func bestTo(p *beatPath, score []int32, at, length int) int32 {
	from := at - p.least - length
	if from < 0 {
		return score[at]
	}
	best := int32(math.MinInt32)
	for l := range p.lengths {
		if d := abs(l - length); d < len(p.change) {
			best = max(best, bestTo(p, score, from, l)-p.change[d])
		}
	}
	return best + score[at] - p.tracked[length]
}

// valueOf a path. The length before its first unit is one that would reach back
// beyond the first point.
func valueOf(p *beatPath, score []int32, begins []int) int32 {
	last := max(0, begins[0]-p.least+1)
	sum := score[begins[0]]
	for i := 1; i < len(begins); i++ {
		l := begins[i] - begins[i-1] - p.least
		if i > 1 || l < last {
			sum -= p.change[abs(l-last)]
		}
		sum += score[begins[i]] - p.tracked[l]
		last = l
	}
	return sum
}

// Looking near where units began finds what looking everywhere finds.
func TestNearIsAsGoodAsEverywhere(t *testing.T) {
	g, before := heardTape(t, broken(t)).shapesSeen(t)
	s := g.shapeOf(before)
	shapes := []beatShape{s, s.quieter(0, g.unit)}
	seeker := newBeatSeeker(g, len(shapes))
	want := seeker.everywhere(shapes)
	far := slices.Clone(want)
	for i := range far {
		far[i] += 5 * (i % 2)
	}
	for name, from := range map[string][]int{"the same": want, "far ones": far} {
		if got := seeker.near(shapes, from); !slices.Equal(got, want) {
			t.Errorf("from %s: another path than looking everywhere", name)
		}
	}
}

// The variance multiplied out is the sum of the squares.
func TestKindsVariance(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	x := matrix(150, 5)
	for _, v := range x {
		for i := range v {
			v[i] = rng.NormFloat64()
		}
	}
	chance := make([]float64, 50)
	for c := range chance {
		chance[c] = rng.Float64()
	}
	f := newKindFit(x, 3, 0, chance, &kindWork{})
	f.learn()
	for i, got := range f.spread {
		var want float64
		for c, q := range chance {
			for s := range f.n {
				a, b := f.at(c, s)[i]-f.mean[0][s][i], f.at(c, s)[i]-f.mean[1][s][i]
				want += ((1-q)*a*a + q*b*b) / 150
			}
		}
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("feature %d: variance %g, want %g", i, got, want)
		}
	}
}
