package order

import "math"

// slips allows for a phase that was lost on the way: what is heard up to a
// moment fits one hypothesis and from then on another one.
type slips struct {
	logs  [][]float64 // by hypothesis and frame: logarithm of the chance of all so far
	all   []float64   // by hypothesis: with slips from it to others
	right []float64   // by hypothesis: that it is the true one, by all that is heard
	price float64     // logarithm of the chance of a slip at one frame to one other hypothesis
}

// slipChance is the chance that the phase is lost within the replay. Judgement
// (prior).
const slipChance = 0.03

func newSlips(logs [][]float64) slips {
	frames := len(logs[0])
	s := slips{logs: logs, price: math.Log(slipChance / float64(frames*(len(logs)-1)))}
	for j := range logs {
		total := s.end(j) + math.Log(1-slipChance)
		for t := range frames {
			total = logAdd(total, s.at(j, t))
		}
		s.all = append(s.all, total)
	}
	for j := range logs {
		s.right = append(s.right, s.eitherSide(j))
	}
	return s
}

// eitherSide is the logarithm of the chance of all that is heard if hypothesis j is
// true, held or on either side of a slip: the phase that was held before the cut may
// have been the wrong one, as where the engine lurched, and the slip its recovery.
func (s slips) eitherSide(j int) float64 {
	total := s.end(j) + math.Log(1-slipChance)
	for t := range s.logs[j] {
		sum := s.at(j, t)
		for k := range s.logs {
			if k != j {
				sum = logAdd(sum, s.logs[k][t]+s.end(j)-s.logs[j][t]+s.price)
			}
		}
		total = logAdd(total, sum-math.Ln2)
	}
	return total
}

func (s slips) end(j int) float64 { return s.logs[j][len(s.logs[j])-1] }

// at is the logarithm of the chance of all that is heard with a slip of
// hypothesis j after frame t.
func (s slips) at(j, t int) float64 {
	sum := math.Inf(-1)
	for k := range s.logs {
		if k != j {
			sum = logAdd(sum, s.end(k)-s.logs[k][t])
		}
	}
	return s.logs[j][t] + sum + s.price
}

// kept is the chance, by frame, that hypothesis j has not slipped yet.
func (s slips) kept(j int) []float64 {
	out := make([]float64, len(s.logs[j]))
	held := s.end(j) + math.Log(1-slipChance)
	for t := len(out) - 1; t >= 0; t-- {
		out[t] = math.Exp(held - s.all[j])
		held = logAdd(held, s.at(j, t))
	}
	return out
}
