package plan

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is a range of a proportion.
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

func checkCount(x, n int, confidence float64) error {
	if n < 1 || x < 0 || x > n {
		return fmt.Errorf("%d out of %d is no count: at least one trial, and hits between 0 and the trials", x, n)
	}
	return checkConfidence(confidence)
}

func checkConfidence(confidence float64) error {
	if !(confidence > 0 && confidence < 1) {
		return fmt.Errorf("confidence %g must lie between 0 and 1, such as 0.95", confidence)
	}
	return nil
}

// Wilson is the score interval of a proportion of x in n at a two-sided
// confidence. Source: Wilson 1927; values of R's binom in the tests.
func Wilson(x, n int, confidence float64) (Interval, error) {
	if err := checkCount(x, n, confidence); err != nil {
		return Interval{}, err
	}
	z := distuv.UnitNormal.Quantile(0.5 + confidence/2)
	p, m := float64(x)/float64(n), float64(n)
	centre := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	i := Interval{max(0, centre-half), min(1, centre+half)}
	if x == 0 {
		i.Low = 0
	}
	if x == n {
		i.High = 1
	}
	return i, nil
}

// ClopperPearson is the exact interval of a proportion of x in n at a two-sided
// confidence. Source: Clopper and Pearson 1934; values of R's binom in the
// tests.
func ClopperPearson(x, n int, confidence float64) (Interval, error) {
	if err := checkCount(x, n, confidence); err != nil {
		return Interval{}, err
	}
	a := (1 - confidence) / 2
	out := Interval{0, 1}
	if x > 0 {
		out.Low = mathext.InvRegIncBeta(float64(x), float64(n-x+1), a)
	}
	if x < n {
		out.High = mathext.InvRegIncBeta(float64(x+1), float64(n-x), 1-a)
	}
	return out, nil
}

// CleanTrials is how many trials without a single hit show, at a one-sided
// confidence, that the rate is below p. Misfires come in bursts, so a trial must
// be a stretch of running, not a firing.
func CleanTrials(p, confidence float64) (int, error) {
	if !(p > 0 && p < 1) {
		return 0, fmt.Errorf("rate %g must lie between 0 and 1", p)
	}
	if err := checkConfidence(confidence); err != nil {
		return 0, err
	}
	return int(math.Ceil(math.Log(1-confidence) / math.Log1p(-p))), nil
}

// CleanTime is how long to run without a miss, in the condition in which it came
// once in every seconds on average, to be sure at a confidence that it is gone:
// −ln(1 − confidence) times as long, which at 95 % is the rule of three.
func CleanTime(every, confidence float64) (float64, error) {
	if err := checkInterval(every); err != nil {
		return 0, err
	}
	if err := checkConfidence(confidence); err != nil {
		return 0, err
	}
	return -math.Log(1-confidence) * every, nil
}

// CleanConfidence is how sure some seconds without a miss make that it is gone,
// in the condition in which it came once in every seconds on average: the chance
// that it would have shown by now, 1 − e^(−seconds/every).
func CleanConfidence(every, seconds float64) (float64, error) {
	if err := checkInterval(every); err != nil {
		return 0, err
	}
	if !(seconds >= 0) {
		return 0, fmt.Errorf("watched for %g s: a time of 0 or more is needed", seconds)
	}
	return -math.Expm1(-seconds / every), nil
}

func checkInterval(every float64) error {
	if !(every > 0) || math.IsInf(every, 1) {
		return fmt.Errorf("the miss came every %g s: a time above 0 is needed", every)
	}
	return nil
}

// Sequential is Wald's plan to accept or reject a repair as the trials come in:
// Good is the rate of a repaired car, Bad the rate of an unrepaired one, False
// the risk to reject a repaired car, Missed the risk to accept an unrepaired one.
type Sequential struct {
	Good, Bad, False, Missed float64
}

// Decision of a sequential plan.
type Decision string

// The decisions.
const (
	GoOn   Decision = "go on"
	Accept Decision = "accept"
	Reject Decision = "reject"
)

// Check reports what makes the plan impossible.
func (s Sequential) Check() error {
	if !(0 < s.Good && s.Good < s.Bad && s.Bad < 1) {
		return fmt.Errorf("sequential plan: rates must rise between 0 and 1, got good %g and bad %g", s.Good, s.Bad)
	}
	if !(s.False > 0 && s.Missed > 0 && s.False+s.Missed < 1) {
		return fmt.Errorf("sequential plan: the risks must be above 0 and sum to less than 1, got %g and %g", s.False, s.Missed)
	}
	return nil
}

// lines are the two parallel lines: accept below a0 + slope·n, reject above
// r0 + slope·n.
func (s Sequential) lines() (a0, r0, slope float64) {
	k := math.Log(s.Bad * (1 - s.Good) / (s.Good * (1 - s.Bad)))
	a0 = math.Log(s.Missed/(1-s.False)) / k
	r0 = math.Log((1-s.Missed)/s.False) / k
	return a0, r0, math.Log((1-s.Good)/(1-s.Bad)) / k
}

// Numbers are the greatest count of hits that accepts after n trials, negative
// when none does yet, and the least that rejects.
func (s Sequential) Numbers(n int) (accept, reject int) {
	a0, r0, slope := s.lines()
	return int(math.Floor(a0 + slope*float64(n))), int(math.Ceil(r0 + slope*float64(n)))
}

// Decide says what to do after hits in n trials.
func (s Sequential) Decide(hits, n int) (Decision, error) {
	if err := s.Check(); err != nil {
		return GoOn, err
	}
	if n < 0 || hits < 0 || hits > n {
		return GoOn, fmt.Errorf("%d hits in %d trials is no count", hits, n)
	}
	switch accept, reject := s.Numbers(n); {
	case hits <= accept:
		return Accept, nil
	case hits >= reject:
		return Reject, nil
	}
	return GoOn, nil
}

// Mean is the average number of trials to a decision when the rate is that of a
// repaired car and that of an unrepaired one (Wald's approximation).
func (s Sequential) Mean() (good, bad float64) {
	a0, r0, slope := s.lines()
	good = ((1-s.False)*a0 + s.False*r0) / (s.Good - slope)
	bad = (s.Missed*a0 + (1-s.Missed)*r0) / (s.Bad - slope)
	return good, bad
}
