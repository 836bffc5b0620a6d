package order

import (
	"math"
	"math/cmplx"
)

const (
	stepCycles = 6    // compared together
	stepMargin = 1.15 // how much likelier another turn must be to count as a slip
)

// inStep keeps of cycles the last run in which the lock held the same firing for
// the first: an engine that lurches makes it slip by a firing or more. Blocks are
// compared, from the newest back, with the mean of those kept, as they are and
// turned by every number of firings.
func inStep(cycles []cycle, bands, harmonics, n int) []cycle {
	from := max(len(cycles)-2*stepCycles, 0)
	for from > 0 {
		next := max(from-stepCycles, 0)
		if slipped(cycles[next:from], cycles[from:], bands, harmonics, n) {
			break
		}
		from = next
	}
	return cycles[from:]
}

// slipped reports whether cycles fit others better when turned by some firings.
func slipped(block, kept []cycle, bands, harmonics, n int) bool {
	fits := make([]float64, n)
	for b := range bands {
		p, q := fold(block, b, harmonics), fold(kept, b, harmonics)
		for h := 1; h <= harmonics; h++ {
			noise := p.noise[h-1] + q.noise[h-1]
			if noise == 0 || h%n == 0 {
				continue
			}
			product := p.mean[h-1] * cmplx.Conj(q.mean[h-1]) / complex(noise, 0)
			for s := range fits {
				fits[s] += real(product * cmplx.Rect(1, 2*math.Pi*float64(h*s)/float64(n)))
			}
		}
	}
	for _, v := range fits[1:] {
		if v > stepMargin*max(fits[0], 0)+stepClear {
			return true
		}
	}
	return false
}

// stepClear is the gain in fit that chance alone may give.
const stepClear = 12.0
