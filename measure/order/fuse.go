package order

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/finding"
)

// FusedName is this analysis' name in findings of Fuse.
const FusedName = "order/1 together"

// Sensed is what one sensor found, and what to call the sensor: "sound", "phone
// on the cover".
type Sensed struct {
	Sensor  string
	Finding finding.Finding
}

// Fuse joins what several sensors found of the same engine at the same time into
// one finding.
//
// Sensors without a mark of a known cylinder each start their cycle where they
// like, so their patterns are joined up to rotation: the product of what each
// says of the pattern alone. One that has names gives them to all. Sensors of
// one kind hear the same events, so k of them that say the same count as √k;
// sound and motion take ways of their own and count nearly fully. One that says
// nothing takes nothing from the others. When one says misfire and another no
// misfire, or their speeds differ, the answer is "cannot tell".
//
// Errors: fewer than two findings, or one of another engine or without a
// likelihood.
func Fuse(layout engine.Layout, sensed ...Sensed) (finding.Finding, error) {
	if len(sensed) < 2 {
		return finding.Finding{}, errors.New("one sensor alone has nothing to be joined with: give two findings or more")
	}
	for _, s := range sensed {
		if s.Finding.Likelihood == nil {
			return finding.Finding{}, fmt.Errorf("%s: the finding says nothing of cylinders (%s)", s.Sensor, s.Finding.Analysis)
		}
		if err := s.Finding.Likelihood.Check(layout.N()); err != nil {
			return finding.Finding{}, fmt.Errorf("%s: %w", s.Sensor, err)
		}
	}
	u := union{layout: layout, sensed: sensed}
	u.weigh()
	return u.finding(), nil
}

// union is sensors being joined.
type union struct {
	layout  engine.Layout
	sensed  []Sensed
	odds    []float64 // of each, as far as its verdict stands by them
	weights []float64 // of its likelihood
	total   float64   // joined odds
}

const (
	kindShare   = 0.5  // power of the number of sensors of a kind that their evidence loses
	kindsShare  = 0.25 // and of the number of kinds
	openOdds    = 1.0  // what a sensor that cannot tell may add
	speedsApart = 0.06 // ratio from which speeds contradict
)

func (u *union) weigh() {
	kinds := map[string][]int{}
	for i, s := range u.sensed {
		raw := rawOdds(s.Finding)
		stands := standing(s.Finding.Verdict, raw)
		weight := 1.0
		if math.Abs(raw) > math.Abs(stands) {
			weight = stands / raw
		}
		u.odds, u.weights = append(u.odds, stands), append(u.weights, weight)
		kinds[s.Finding.Analysis] = append(kinds[s.Finding.Analysis], i)
	}
	var each []float64
	for _, members := range kinds {
		share := u.share(members, kindShare)
		var sum float64
		for _, i := range members {
			u.weights[i] *= share
			u.odds[i] *= share
			sum += u.odds[i]
		}
		each = append(each, sum)
	}
	share := math.Pow(speaking(each), -kindsShare)
	for i := range u.odds {
		u.weights[i] *= share
		u.odds[i] *= share
		u.total += u.odds[i]
	}
	if u.total <= noMisfireOdds && !u.anySays(finding.NoMisfire) {
		u.total = 0 // those that cannot tell make no all-clear together
	}
}

func (u *union) share(members []int, power float64) float64 {
	var odds []float64
	for _, i := range members {
		odds = append(odds, u.odds[i])
	}
	return math.Pow(speaking(odds), -power)
}

// speaking is how many of the odds say something: (Σ|o|)²/Σo².
func speaking(odds []float64) float64 {
	var sum, squares float64
	for _, o := range odds {
		sum += math.Abs(o)
		squares += o * o
	}
	if squares == 0 {
		return 1
	}
	return sum * sum / squares
}

func rawOdds(f finding.Finding) float64 {
	q, ok := f.Quantity(ChanceQuantity)
	if !ok {
		return 0
	}
	p := min(max(q.Value, 1e-6), 1-1e-6)
	return math.Log(p / (1 - p))
}

// standing is the odds as far as the verdict stands by them.
func standing(v finding.Verdict, odds float64) float64 {
	switch v {
	case finding.Misfire:
		return max(odds, misfireOdds)
	case finding.NoMisfire:
		return min(odds, noMisfireOdds)
	}
	return min(max(odds, -openOdds), openOdds)
}

func (u *union) finding() finding.Finding {
	f := finding.Finding{Analysis: FusedName, Likelihood: u.likelihood()}
	u.addQuantities(&f)
	f.Verdict, f.Sentence = u.verdict(f)
	if f.Verdict != finding.CannotTell && !f.Likelihood.Anonymous && f.Verdict == finding.Misfire {
		f.Sentence += " " + nameSentence(suspicions(f.Likelihood, u.layout))
	}
	if u.contradiction() != "" {
		f.Likelihood = &finding.Likelihood{Anonymous: true, Log: map[finding.Pattern]float64{}}
	}
	for _, s := range u.sensed {
		f.Notes = append(f.Notes, s.Sensor+": "+s.Finding.Sentence)
		for _, n := range s.Finding.Notes {
			f.Notes = append(f.Notes, s.Sensor+": "+n)
		}
		for _, one := range s.Finding.Series {
			one.Title = s.Sensor + ": " + one.Title
			f.Series = append(f.Series, one)
		}
	}
	return f
}

// likelihood is the weighted sum; named when one of them is.
func (u *union) likelihood() *finding.Likelihood {
	anonymous := true
	for _, s := range u.sensed {
		anonymous = anonymous && s.Finding.Likelihood.Anonymous
	}
	log := map[finding.Pattern]float64{}
	for _, p := range patternsOf(u.layout.N()) {
		keys := []finding.Pattern{p.Canonical()}
		if !anonymous {
			keys = rotations(p)
		}
		for _, key := range keys {
			log[key] = u.logOf(func(l *finding.Likelihood) float64 { return l.Of(key) })
		}
	}
	none := log[finding.AllWork(u.layout.N())]
	for p := range log {
		log[p] -= none
	}
	return &finding.Likelihood{Anonymous: anonymous, Log: log,
		Else: u.logOf(func(l *finding.Likelihood) float64 { return l.Else }) - none}
}

func (u *union) logOf(of func(*finding.Likelihood) float64) float64 {
	var sum float64
	for i, s := range u.sensed {
		sum += u.weights[i] * of(s.Finding.Likelihood)
	}
	return sum
}

// contradiction says what does not fit together, or nothing.
func (u *union) contradiction() string {
	var yes, no []string
	for _, s := range u.sensed {
		switch s.Finding.Verdict {
		case finding.Misfire:
			yes = append(yes, s.Sensor)
		case finding.NoMisfire:
			no = append(no, s.Sensor)
		}
	}
	if len(yes) > 0 && len(no) > 0 {
		return fmt.Sprintf("%s says it misfires, %s that it does not; check that all were on this engine at the same time, and record again together", listed(yes), listed(no))
	}
	a, _ := u.sensed[0].Finding.Quantity(SpeedQuantity)
	for _, s := range u.sensed[1:] {
		b, _ := s.Finding.Quantity(SpeedQuantity)
		if a.Value > 0 && b.Value > 0 && math.Abs(math.Log(a.Value/b.Value)) > speedsApart {
			return fmt.Sprintf("%s found %.0f rpm and %s %.0f rpm; if they were taken at the same time, say the speed with --speed, else they cannot be joined", u.sensed[0].Sensor, a.Value, s.Sensor, b.Value)
		}
	}
	return ""
}

func (u *union) verdict(f finding.Finding) (finding.Verdict, string) {
	if why := u.contradiction(); why != "" {
		return finding.CannotTell, "Cannot tell: " + why + "."
	}
	speed, _ := f.Quantity(SpeedQuantity)
	missing, _ := f.Quantity(MissingQuantity)
	var names []string
	for _, s := range u.sensed {
		names = append(names, s.Sensor)
	}
	all := listed(names)
	switch {
	case u.total >= misfireOdds:
		return finding.Misfire, fmt.Sprintf("It misfires, by %s together: at %.0f rpm about %.1f cylinders' worth of work is missing (%.1f to %.1f).",
			all, speed.Value, missing.Value, missing.Low, missing.High)
	case u.total <= noMisfireOdds:
		return finding.NoMisfire, fmt.Sprintf("No misfire by %s together: at %.0f rpm all %d firings are there.", all, speed.Value, u.layout.N())
	}
	return finding.CannotTell, fmt.Sprintf("Cannot tell: %s together leave it open at %.0f rpm; record again, longer, and each in another place.", all, speed.Value)
}

func (u *union) anySays(v finding.Verdict) bool {
	return slices.ContainsFunc(u.sensed, func(s Sensed) bool { return s.Finding.Verdict == v })
}

// listed joins words: "a", "a and b", "a, b and c".
func listed(words []string) string {
	n := len(words)
	if n < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
}

func (u *union) addQuantities(f *finding.Finding) {
	for _, name := range []string{SpeedQuantity, MissingQuantity, MissesQuantity} {
		if q, ok := u.joinedQuantity(name); ok {
			f.Quantities = append(f.Quantities, q)
		}
	}
	total := u.total
	if u.contradiction() != "" {
		total = 0
	}
	chance := chanceOf(total)
	f.Quantities = append(f.Quantities, finding.Quantity{Name: ChanceQuantity, Value: chance, Low: chance, High: chance, Confidence: confidence})
}

// joinedQuantity averages by precision. The interval is that of the most precise
// sensor, moved, and no narrower: they err alike. Where they differ by more than
// their intervals allow it is wider, by √(χ²/(k−1)), the scale factor of the
// Particle Data Group's averages.
func (u *union) joinedQuantity(name string) (finding.Quantity, bool) {
	best, ok := u.narrowest(name)
	if !ok {
		return best, false
	}
	var sum, weight, square, count float64
	for _, s := range u.sensed {
		if q, ok := s.Finding.Quantity(name); ok {
			half := max(q.High-q.Low, 1e-6) / 2
			w := 1 / (half * half)
			sum, weight, square, count = sum+w*q.Value, weight+w, square+w*q.Value*q.Value, count+1
		}
	}
	middle := sum / weight
	wider := 1.0
	if count > 1 {
		wider = math.Sqrt(max(1, normalSpreads*normalSpreads*(square-weight*middle*middle)/(count-1)))
	}
	low, high := wider*(best.Value-best.Low), wider*(best.High-best.Value)
	best.Value, best.Low, best.High = middle, max(0, middle-low), middle+high
	if name == MissesQuantity {
		best.Value, best.High = min(best.Value, 1), min(best.High, 1)
	}
	return best, true
}

// normalSpreads of a normal law lie to each side in an interval of the
// confidence given here.
const normalSpreads = 1.645

func (u *union) narrowest(name string) (best finding.Quantity, found bool) {
	for _, s := range u.sensed {
		if q, ok := s.Finding.Quantity(name); ok && (!found || q.High-q.Low < best.High-best.Low) {
			best, found = q, true
		}
	}
	return best, found
}
