package cutout

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// noisy is a trace of normal noise in which cuts of the given strengths lie at the
// given places, each of the same length.
func noisy(places int, begins []int, length int, strengths []float64, seed uint64) trace {
	rng := rand.New(rand.NewPCG(seed, 1))
	t := trace{z: make([]float64, places), begin: 6, end: 6}
	for i := range t.z {
		t.z[i] = rng.NormFloat64()
	}
	for j, at := range begins {
		t.z[at] += 6 * strengths[j]
		t.z[at+length] -= 6 * strengths[j]
	}
	return t
}

func scheduleOf(t trace, slots int) *schedule {
	s := &schedule{places: len(t.z), length: cutRhythm(4, openSpread), pause: pauseRhythm(10, openSpread)}
	e := newEffects(t, 1, s.places, nil)
	for range slots {
		one := slot{effects: e, chance: shareChances}
		one.weighPairs(s.length, s.places)
		s.slots = append(s.slots, one)
	}
	s.forward()
	return s
}

// A dead cylinder's cut leaves no trace: the rhythm keeps its place, and the cuts
// after it keep their names.
func TestScheduleKeepsThePlaceOfADeadCut(t *testing.T) {
	begins := []int{45, 115, 184, 256, 325}
	s := scheduleOf(noisy(400, begins, 20, []float64{1, 1, 0, 1, 1}, 3), 5)
	rng := rand.New(rand.NewPCG(1, 2))
	right := 0
	for range 50 {
		w, ok := s.draw(rng), true
		for j, at := range begins {
			far := math.Abs(float64(w.begin[j] - at))
			ok = ok && (far <= 2 && w.visible[j] || j == 2 && far <= 35)
		}
		if ok {
			right++
		}
	}
	if right < 45 {
		t.Errorf("%d of 50 draws have each cut in its place, want nearly all", right)
	}
}

// Law: what a pass learns adds up to one beginning, one end and one length for each
// slot and one pause between two.
func TestScheduleLearnsOneOfEach(t *testing.T) {
	s := scheduleOf(noisy(300, []int{40, 110, 180}, 20, []float64{1, 0.5, 1}, 5), 3)
	l := s.backward()
	total := func(rows ...[]float64) (sum float64) {
		for _, row := range rows {
			for _, v := range row {
				sum += v
			}
		}
		return sum
	}
	for what, got := range map[string][2]float64{
		"beginnings": {total(l.begin...), 3}, "ends": {total(l.end...), 3}, "lengths": {total(l.length), 3}, "pauses": {total(l.pause), 2},
	} {
		if math.Abs(got[0]-got[1]) > 0.05 {
			t.Errorf("%s add up to %.3f, want %.0f", what, got[0], got[1])
		}
	}
}

// Noise gives a schedule no evidence: a likelihood ratio is 1 on average (textbook).
func TestScheduleFindsNothingInNoise(t *testing.T) {
	var ratios []float64
	for seed := uint64(0); seed < 40; seed++ {
		with := scheduleOf(noisy(300, nil, 20, nil, seed), 3)
		none := scheduleOf(trace{z: make([]float64, 300)}, 3)
		ratios = append(ratios, with.logP-none.logP)
	}
	slices.Sort(ratios)
	if worst := ratios[len(ratios)-1]; worst > 6 {
		t.Errorf("noise alone is taken for cuts: ln of the likelihood ratio %.1f", worst)
	}
}

// A fan's load comes on and stays for long: it is no cut.
func TestAFanIsNoCut(t *testing.T) {
	tr := noisy(400, []int{45, 115, 185, 255, 325}, 20, []float64{1, 1, 1, 1, 1}, 8)
	tr.z[150] += 15
	s := scheduleOf(tr, 5)
	if w := s.draw(rand.New(rand.NewPCG(3, 4))); slices.Contains(w.begin, 150) {
		t.Errorf("cuts begin at %v, among them the fan at 150", w.begin)
	}
}
