package plan

import (
	"errors"
	"fmt"
	"math"
)

// Life is the age of a part when it failed, or when it was last seen sound.
// Any unit of use will do, as long as it is the same throughout.
type Life struct {
	Age    float64
	Failed bool
	Count  float64 // parts alike; 0 means 1
}

// Weibull is a life distribution: the chance to outlive age t is
// exp(−(t/Scale)^Shape).
type Weibull struct {
	Scale float64 `json:"scale"` // same unit as the ages
	Shape float64 `json:"shape"` // above 1: wears out
}

// FitWeibull is the maximum-likelihood fit with right censoring. It needs two
// different ages of failure. Source: NIST/SEMATECH handbook 8.4.1.3.
func FitWeibull(lives []Life) (Weibull, error) {
	failed, top := 0.0, 0.0
	ages := map[float64]bool{}
	for _, l := range lives {
		if !(l.Age > 0) || math.IsInf(l.Age, 1) || l.Count < 0 || math.IsNaN(l.Count) || math.IsInf(l.Count, 1) {
			return Weibull{}, fmt.Errorf("life of %g (%g parts): an age above 0 is needed", l.Age, l.Count)
		}
		top = max(top, l.Age)
		if l.Failed {
			failed += l.count()
			ages[l.Age] = true
		}
	}
	if len(ages) == 0 {
		return Weibull{}, errors.New("no ages given: at least two failures are needed")
	}
	if len(ages) < 2 {
		return Weibull{}, fmt.Errorf("all failures at one age: two different ages are needed to see wear")
	}
	shape := solveShape(lives, failed, top)
	scale := top * math.Pow(powerSum(lives, shape, top)/failed, 1/shape)
	return Weibull{scale, shape}, nil
}

func (l Life) count() float64 {
	if l.Count == 0 {
		return 1
	}
	return l.Count
}

// powerSum is Σ (t/top)^b over all lives.
func powerSum(lives []Life, b, top float64) float64 {
	sum := 0.0
	for _, l := range lives {
		sum += l.count() * math.Pow(l.Age/top, b)
	}
	return sum
}

// solveShape finds the root of the likelihood equation, which rises with b, by
// bisection.
func solveShape(lives []Life, failed, top float64) float64 {
	meanLog := 0.0
	for _, l := range lives {
		if l.Failed {
			meanLog += l.count() * math.Log(l.Age/top) / failed
		}
	}
	score := func(b float64) float64 {
		num, den := 0.0, 0.0
		for _, l := range lives {
			w := l.count() * math.Pow(l.Age/top, b)
			num += w * math.Log(l.Age/top)
			den += w
		}
		return num/den - 1/b - meanLog
	}
	low, high := 1e-3, 1.0
	for score(high) < 0 && high < 1e4 {
		high *= 2
	}
	for range 200 {
		mid := (low + high) / 2
		if score(mid) < 0 {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// LogLikelihood of the lives, natural log.
func (w Weibull) LogLikelihood(lives []Life) float64 {
	sum := 0.0
	for _, l := range lives {
		z := l.Age / w.Scale
		sum -= l.count() * math.Pow(z, w.Shape)
		if l.Failed {
			sum += l.count() * (math.Log(w.Shape/w.Scale) + (w.Shape-1)*math.Log(z))
		}
	}
	return sum
}

// Survival is the chance to outlive an age.
func (w Weibull) Survival(age float64) float64 {
	return math.Exp(-math.Pow(max(age, 0)/w.Scale, w.Shape))
}

// SurvivalFrom is the chance of a part of this age to last more.
func (w Weibull) SurvivalFrom(age, more float64) float64 {
	age = max(age, 0)
	return math.Exp(math.Pow(age/w.Scale, w.Shape) - math.Pow((age+more)/w.Scale, w.Shape))
}

// Mean and spread of the life.
func (w Weibull) Mean() (mean, sd float64) {
	g1, g2 := math.Gamma(1+1/w.Shape), math.Gamma(1+2/w.Shape)
	return w.Scale * g1, w.Scale * math.Sqrt(g2-g1*g1)
}

// Quantile is the age by which a share p has failed.
func (w Weibull) Quantile(p float64) float64 {
	return w.Scale * math.Pow(-math.Log1p(-p), 1/w.Shape)
}

// Replacement is when to renew a part that still works, and the cost per unit of
// age of doing so and of running it to failure.
type Replacement struct {
	Age     float64 // +Inf: run to failure
	Rate    float64
	RunRate float64
}

// ReplaceAt is the age that minimises the long-run cost
//
//	(planned·R(T) + failure·(1 − R(T))) / ∫₀ᵀ R
//
// A part that does not wear out, or whose failure costs no more, is run to
// failure. Source: the age-replacement model of Barlow and Proschan.
func (w Weibull) ReplaceAt(planned, failure float64) (Replacement, error) {
	if !(planned > 0) || !(failure > 0) || math.IsInf(planned+failure, 1) {
		return Replacement{}, fmt.Errorf("replacement: costs must be above 0, got planned %g and failure %g", planned, failure)
	}
	mean, _ := w.Mean()
	out := Replacement{math.Inf(1), failure / mean, failure / mean}
	if w.Shape <= 1 || failure <= planned {
		return out, nil
	}
	// optimum: hazard(T)·∫R + R(T) = failure/(failure − planned), rising in T
	target := failure / (failure - planned)
	low, high := 0.0, w.Scale
	for w.gain(high) < target && high < 1e3*w.Scale {
		high *= 1.5
	}
	for range 100 {
		mid := (low + high) / 2
		if w.gain(mid) < target {
			low = mid
		} else {
			high = mid
		}
	}
	out.Age = (low + high) / 2
	r := w.Survival(out.Age)
	out.Rate = (planned*r + failure*(1-r)) / w.used(out.Age)
	return out, nil
}

func (w Weibull) gain(t float64) float64 {
	hazard := w.Shape / w.Scale * math.Pow(t/w.Scale, w.Shape-1)
	return hazard*w.used(t) + w.Survival(t)
}

// used is the mean age at renewal, ∫₀ᵗ R, by Simpson's rule on 2000 steps.
func (w Weibull) used(t float64) float64 {
	const steps = 2000
	h := t / steps
	sum := w.Survival(0) + w.Survival(t)
	for i := 1; i < steps; i++ {
		sum += float64(2+2*(i%2)) * w.Survival(float64(i)*h)
	}
	return sum * h / 3
}
