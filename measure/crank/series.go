package crank

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halforder/finding"
)

// series are the plots: speed over the cycle, work bars, misses over time.
func (a *analysis) series() []finding.Series {
	out := []finding.Series{a.speedSeries(), a.workSeries()}
	return append(out, a.missSeries()...)
}

// slotMark names a slot where there is little room.
func (a *analysis) slotMark(k int) string { return strings.ReplaceAll(a.slotName(k), " or ", "/") }

// smoothShare is the share of a firing interval over which the plotted speed is
// averaged: single teeth show their own place more than the engine's speed.
const smoothShare = 1.0 / 6

// speedSeries is the speed over the mean cycle against its mean, in percent,
// with the firings named on the axis.
func (a *analysis) speedSeries() finding.Series {
	b := mainBins(a.bins, 1)[0]
	s := finding.Series{Title: fmt.Sprintf("Speed over the cycle at %.0f rpm", b.rpm), Shape: finding.Line,
		XName: "crank angle, cylinders at top dead centre", YName: "against mean", YUnit: "%"}
	if a.how == anonymous {
		s.XName = "crank angle, firings at top dead centre"
	}
	m := len(a.clock.angles)
	wide := max(1, int(math.Round(smoothShare*float64(m)/float64(len(a.tops)))))
	next := 0
	for i := range m {
		from, to := i-wide/2, i-wide/2+wide
		angle := markAngle(a.clock.angles, to) - markAngle(a.clock.angles, from)
		late := b.late[wrapIndex(to, m)] - b.late[wrapIndex(from, m)]
		label := ""
		for ; next < len(a.tops) && a.tops[next] < markAngle(a.clock.angles, i+1); next++ {
			label += a.slotMark(next)
		}
		s.X = append(s.X, (markAngle(a.clock.angles, to)+markAngle(a.clock.angles, from))/2)
		s.Y = append(s.Y, -100*late/angle)
		s.Labels = append(s.Labels, label)
	}
	return s
}

func (a *analysis) workSeries() finding.Series {
	s := finding.Series{Title: "Work of each cylinder", Shape: finding.Bars, XName: "cylinder, in firing order", YName: "share of a healthy one"}
	mean, dev := a.works(a.mainJudgement())
	for i, k := range a.inOrder() {
		s.X = append(s.X, float64(i+1))
		s.Y = append(s.Y, mean[k])
		s.Low = append(s.Low, mean[k]-1.96*dev[k])
		s.High = append(s.High, mean[k]+1.96*dev[k])
		s.Labels = append(s.Labels, a.slotMark(k))
	}
	return s
}

// mostBars bounds the bars of a time line, mostLines the time lines.
const (
	mostBars  = 120
	mostLines = 3
)

// missSeries are the time lines of misses: one for each of the worst cylinders,
// one for all others together; just one for all when no cylinder stands out.
func (a *analysis) missSeries() []finding.Series {
	dead := a.deadSlots()
	shown := append(slices.Clone(dead), a.missingSlots(dead)...)
	t := a.tallies()
	slices.SortStableFunc(shown, func(x, y int) int { return t[y].missed - t[x].missed })
	shown = shown[:min(len(shown), mostLines)]
	if len(shown) == 0 {
		return []finding.Series{a.timeLine("Misses over time", func(int) bool { return true })}
	}
	var out []finding.Series
	for _, k := range shown {
		out = append(out, a.timeLine("Misses of "+a.slotLabel(k)+" over time", func(slot int) bool { return slot == k }))
	}
	others := a.someMisses()
	for _, k := range shown {
		others -= t[k].missed
	}
	if others > 0 {
		out = append(out, a.timeLine("Misses of the others over time", func(slot int) bool { return !slices.Contains(shown, slot) }))
	}
	return out
}

// timeLine counts the misses of some slots over time.
func (a *analysis) timeLine(title string, counts func(slot int) bool) finding.Series {
	s := finding.Series{Title: title, Shape: finding.Bars, XName: "time", XUnit: "s", YName: "misses"}
	if len(a.weighed) == 0 {
		return s
	}
	from, to := a.weighed[0].at, a.weighed[len(a.weighed)-1].at
	width := math.Max(1, math.Ceil((to-from)/mostBars))
	bars := make([]float64, 1+int((to-from)/width))
	for i := range a.weighed {
		if w := &a.weighed[i]; w.miss && counts(int(w.slot)) {
			bars[int((w.at-from)/width)]++
		}
	}
	for i, n := range bars {
		s.X = append(s.X, from+(float64(i)+0.5)*width)
		s.Y = append(s.Y, n)
	}
	s.YName = fmt.Sprintf("misses per %.0f s", width)
	return s
}
