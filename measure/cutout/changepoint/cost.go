package changepoint

import (
	"errors"
	"fmt"
	"math"
)

// Series is a record of several channels sampled together.
type Series struct {
	length int
	sums   []sums
}

// sums are running totals of one channel, in units of its noise, about its
// mean so that nothing is lost in the squares.
type sums struct {
	count, linear, square []float64
}

// New takes channels of equal length with the standard deviation of each one's
// noise, in the unit of the channel.
func New(channels [][]float64, sigma []float64) (*Series, error) {
	if len(channels) == 0 || len(channels) != len(sigma) {
		return nil, fmt.Errorf("change points: %d channels and %d noise levels, expected as many of one as of the other, at least one", len(channels), len(sigma))
	}
	s := &Series{length: len(channels[0])}
	for i, c := range channels {
		if len(c) != s.length {
			return nil, fmt.Errorf("change points: channel %d has %d samples, the first has %d", i+1, len(c), s.length)
		}
		if !(sigma[i] > 0) || math.IsInf(sigma[i], 0) {
			return nil, fmt.Errorf("change points: noise of channel %d is %g, expected a positive number", i+1, sigma[i])
		}
		t, err := total(c, sigma[i])
		if err != nil {
			return nil, fmt.Errorf("change points: channel %d: %w", i+1, err)
		}
		s.sums = append(s.sums, t)
	}
	return s, nil
}

func total(x []float64, sigma float64) (sums, error) {
	mean, err := meanOf(x)
	n := len(x) + 1
	t := sums{make([]float64, n), make([]float64, n), make([]float64, n)}
	for i, v := range x {
		t.count[i+1], t.linear[i+1], t.square[i+1] = t.count[i], t.linear[i], t.square[i]
		if !math.IsNaN(v) {
			z := (v - mean) / sigma
			t.count[i+1]++
			t.linear[i+1] += z
			t.square[i+1] += z * z
		}
	}
	return t, err
}

func meanOf(x []float64) (float64, error) {
	var sum, n float64
	for _, v := range x {
		if math.IsInf(v, 0) {
			return 0, errors.New("a sample is infinite")
		}
		if !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	if n == 0 {
		return 0, nil
	}
	return sum / n, nil
}

// Len is the number of samples.
func (s *Series) Len() int { return s.length }

// RSS is the cost of the stretch from sample `from` up to but not including
// `to`: residual squares about its mean over all channels, in noise units.
func (s *Series) RSS(from, to int) float64 {
	var cost float64
	for _, t := range s.sums {
		if n := t.count[to] - t.count[from]; n > 0 {
			sum := t.linear[to] - t.linear[from]
			cost += t.square[to] - t.square[from] - sum*sum/n
		}
	}
	return max(cost, 0)
}

// Total is the RSS of the whole record cut at breaks.
func (s *Series) Total(breaks []int) float64 {
	var cost float64
	from := 0
	for _, to := range append(append([]int(nil), breaks...), s.length) {
		cost += s.RSS(from, to)
		from = to
	}
	return cost
}
