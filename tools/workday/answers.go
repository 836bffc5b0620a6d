package main

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halforder/engine"
)

var (
	byCylinder = regexp.MustCompile(`(\d+): ([-+]?\d+(?:\.\d+)?|-?Inf|NaN)`)
	anyNumber  = regexp.MustCompile(`[-+]?\d+(?:\.\d+)?`)
	clamped    = regexp.MustCompile(`(\d+): ([\d.]+) A in ([\d.]+) ms`)
	bankLate   = regexp.MustCompile(`bank (\d): ([-+]\d+)`)
	ofCylinder = regexp.MustCompile(`^P(02|03|23)`)
	code       = regexp.MustCompile(`\b[PBCU][0-3][0-9A-F]{3}\b`)
)

// values are the numbers of an answer by cylinder, in their order.
func values(answer string) (out []float64) {
	for _, m := range byCylinder.FindAllStringSubmatch(answer, -1) {
		out = append(out, number(m[2]))
	}
	return out
}

// numbers are all numbers of an answer after a phrase.
func numbers(answer, after string) (out []float64) {
	_, rest, _ := strings.Cut(answer, after)
	for _, m := range anyNumber.FindAllString(rest, -1) {
		out = append(out, number(m))
	}
	return out
}

func number(text string) float64 {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic("workday: " + err.Error()) // the patterns match numbers only
	}
	return x
}

// each gives every cylinder its own value, in the unit of the format.
func each(format string, factor float64) func(string, engine.Layout, engine.Cylinder) []string {
	return func(answer string, _ engine.Layout, _ engine.Cylinder) (out []string) {
		for i, v := range values(answer) {
			out = append(out, fmt.Sprintf("%d="+format, i+1, v*factor))
		}
		return out
	}
}

// graded gives every cylinder the outcome its value earns.
func graded(answer string, outcome func(v, usual float64) string) (out []string) {
	v := values(answer)
	sorted := slices.Sorted(slices.Values(v))
	for i, x := range v {
		out = append(out, fmt.Sprintf("%d=%s", i+1, outcome(x, sorted[len(sorted)/2])))
	}
	return out
}

// cutFields are the drops of the cylinders asked for against the usual one.
func cutFields(answer string, at []engine.Cylinder) (out []string) {
	all := graded(answer, func(v, usual float64) string {
		switch {
		case v > 0.7*usual:
			return "normal"
		case v > 0.25*usual:
			return "small"
		}
		return "none"
	})
	for _, c := range at {
		out = append(out, all[c-1])
	}
	return out
}

func rampFields(answer string, _ engine.Layout, _ engine.Cylinder) (out []string) {
	for _, m := range clamped.FindAllStringSubmatch(answer, -1) {
		peak, rise, says := number(m[2]), number(m[3]), "normal"
		switch {
		case peak < 1:
			says = "none"
		case rise < 1 && peak > 6:
			says = "steep"
		case peak < 5.5:
			says = "low"
		}
		out = append(out, m[1]+"="+says)
	}
	return out
}

func ohmFields(answer string, _ engine.Layout, c engine.Cylinder) []string {
	if strings.Contains(answer, "open") {
		return []string{fmt.Sprintf("%d=open", c)}
	}
	return []string{fmt.Sprintf("%d=%gohm", c, numbers(answer, ":")[0])}
}

// battery is what an engine that stands has at its battery, in volts.
const battery = 12.5

func feedFields(answer string, _ engine.Layout, c engine.Cylinder) []string {
	return []string{fmt.Sprintf("%d=%.1fV", c, max(battery-numbers(answer, "current:")[0], 0))}
}

func plugFields(answer string, _ engine.Layout, c engine.Cylinder) []string {
	gap := numbers(answer, "gap")[0]
	says := phrase(answer, map[string]string{"normal": "good", "cracked": "cracked", "fouled": "cracked", "wet with fuel": "wet",
		"sooty": "sooty", "white": "good", "washed": "washed", "oily": "oily"})
	if says == "good" && gap > 1.25 {
		says = "worn"
	}
	return []string{fmt.Sprintf("%d=%s", c, says)}
}

func mistFields(answer string, _ engine.Layout, _ engine.Cylinder) []string {
	if slices.Max(values(answer)) > 15 {
		return []string{"worse"}
	}
	return []string{"same"}
}

func pressureFields(answer string) []string {
	return []string{fmt.Sprintf("%.2fbar", numbers(answer, "pressure")[0]/100)}
}

func restFields(answer string, _ engine.Layout, _ engine.Cylinder) []string {
	p := numbers(answer, "pressure")
	if p[1] < 0.6*p[0] {
		return []string{"falls"}
	}
	return []string{"holds"}
}

func trimFields(answer string, _ engine.Layout, _ engine.Cylinder) []string {
	return []string{fmt.Sprintf("%.0f%%/%.0f%%", numbers(answer, "at idle:")[0], numbers(answer, "at 2500 rpm:")[0])}
}

// meterFields judges as a technician does: an oxygen sensor a tenth richer than the
// gas, or an air meter a fifth below what pressure and speed speak for, is off.
func meterFields(answer string, _ engine.Layout, _ engine.Cylinder) []string {
	sensors, meter, _ := strings.Cut(answer, "Air meter at 2500 rpm:")
	if numbers(meter, "")[0] < 0.8*numbers(meter, "speak for")[0] {
		return []string{"meter"}
	}
	for _, bank := range strings.Split(sensors, "oxygen sensor")[1:] {
		if numbers(bank, " λ ")[0] < 0.9*numbers(bank, "gas λ ")[0] {
			return []string{"oxygen"}
		}
	}
	return []string{"plausible"}
}

func signalFields(answer string, _ engine.Layout, _ engine.Cylinder) []string {
	if numbers(answer, "lie ")[0] > 0.5 {
		return []string{"faulty"}
	}
	return []string{"clean"}
}

// gasFields judges as a technician does: much oxygen with much unburnt fuel is a miss,
// carbon monoxide is rich, much oxygen alone air.
func gasFields(answer string, _ engine.Layout, _ engine.Cylinder) []string {
	co, o2, hc := numbers(answer, ", CO ")[0], numbers(answer, ", O₂ ")[0], numbers(answer, ", HC ")[0]
	switch {
	case hc > 600 && o2 > 1.5:
		return []string{"unburnt"}
	case co > 1.5:
		return []string{"rich"}
	case o2 > 1.5:
		return []string{"air"}
	}
	return []string{"clean"}
}

func vacuumFields(answer string, _ engine.Layout, _ engine.Cylinder) []string {
	return []string{fmt.Sprintf("%.2fbar", (101.3-numbers(answer, "pressure")[0])/100)}
}

func starterFields(answer string, _ engine.Layout, _ engine.Cylinder) []string {
	return graded(answer, func(v, usual float64) string {
		if v < 0.85*usual {
			return "low"
		}
		return "equal"
	})
}

func leakFields(answer string, _ engine.Layout, c engine.Cylinder) []string {
	loss := numbers(answer, "loses")[0]
	says := phrase(answer, map[string]string{"exhaust": "exhaust", "intake": "intake", "oil filler": "crankcase", "coolant": "coolant", "next cylinder": "coolant"})
	if loss < 20 {
		says = "tight"
	}
	return []string{fmt.Sprintf("%d=%s", c, says)}
}

func camFields(answer string, l engine.Layout, _ engine.Cylinder) (out []string) {
	for _, m := range bankLate.FindAllStringSubmatch(answer, -1) {
		says := "ok"
		if number(m[2]) > 6 {
			says = "off"
		}
		out = append(out, atBank(l, int(number(m[1])), says))
	}
	return out
}

// atBank gives a bank of several its result at its first cylinder.
func atBank(l engine.Layout, bank int, says string) string {
	if len(l.Banks()) == 1 {
		return says
	}
	return fmt.Sprintf("%d=%s", l.Banks()[bank-1][0], says)
}

func backFields(answer string, l engine.Layout, _ engine.Cylinder) (out []string) {
	for i, v := range values(answer) {
		out = append(out, atBank(l, i+1, fmt.Sprintf("%.3fbar", v/100)))
	}
	return out
}

func shakeFields(answer string, _ engine.Layout, _ engine.Cylinder) []string {
	if numbers(answer, "turn:")[0] > 0.35 {
		return []string{"found"}
	}
	return []string{"nothing"}
}
