package report

import (
	"fmt"
	"math"
)

// Percent writes a probability so that nothing uncertain looks certain.
func Percent(p float64) string {
	switch {
	case math.IsNaN(p):
		return "unknown"
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// Money writes hundredths as a sum.
func Money(cents int64) string { return fmt.Sprintf("%d.%02d", cents/100, cents%100) }

// Duration writes seconds the way a person says them.
func Duration(seconds float64) string {
	switch {
	case seconds < 90:
		return fmt.Sprintf("%.0f s", seconds)
	case seconds < 90*60:
		return fmt.Sprintf("%.0f min", seconds/60)
	}
	return fmt.Sprintf("%.1f h", seconds/3600)
}
