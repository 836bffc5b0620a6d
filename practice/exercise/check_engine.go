package exercise

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/practice"
)

var noStart = result{"The engine does not keep running.", "does not run"}

// kept is what was read of a running engine, if it still runs.
func (b *bay) kept(r result) result {
	if !b.e.State().Running {
		return noStart
	}
	return r
}

// whole are the checks of the whole engine.
var whole = map[string]func(*bay) result{
	"codes": (*bay).codes, "trims": (*bay).trims, "cut-out": (*bay).cutOut, "road": (*bay).road, "current": (*bay).current,
	"vacuum": (*bay).vacuum, "gas": (*bay).gas, "feel": (*bay).feel, "spray": (*bay).spray, "compression": (*bay).compression,
	"balance": (*bay).balance, "fuel-pressure": (*bay).fuelPressure, "fuel-volume": (*bay).fuelVolume, "fuel-sample": (*bay).fuelSample,
	"smoke": (*bay).smoke, "egr-off": func(b *bay) result { return b.valve("egr") }, "purge-off": func(b *bay) result { return b.valve("purge") },
	"cam": (*bay).cam, "back-pressure": (*bay).backPressure, "starter": (*bay).starter, "coolant": (*bay).coolant,
	"meters": (*bay).meters, "signal": (*bay).signal,
}

func (b *bay) codes() result {
	if !b.idle() {
		return noStart
	}
	miss := b.misses(25)
	s := b.e.State()
	var codes []string
	for _, c := range s.Codes {
		codes = append(codes, c.Code)
	}
	slices.Sort(codes)
	text := fmt.Sprintf("Codes: %s. Lamp %s. Misfires counted at idle, per cent of firings by cylinder: %s.", orNone(codes), s.Lamp, list(percent(miss), "%.0f"))
	return result{text, strings.Join(codes, " ") + " missing " + names(miss, 0.05)}
}

func orNone(items []string) string {
	if len(items) == 0 {
		return "none"
	}
	return strings.Join(items, ", ")
}

func percent(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = 100 * v
	}
	return out
}

func (b *bay) trims() result {
	if !b.idle() {
		return noStart
	}
	b.wait(10)
	text, outcome := "", ""
	for _, at := range []string{"idle", "2500 rpm"} {
		if at != "idle" {
			b.do("hold 2500")
			b.wait(10)
		}
		rec := b.listen(bus("short_trim_1_percent", "long_trim_1_percent", "short_trim_2_percent", "long_trim_2_percent"), 6)
		for bank := range b.layout.Banks() {
			sum := reading(rec, fmt.Sprintf("short_trim_%d_percent", bank+1)) + reading(rec, fmt.Sprintf("long_trim_%d_percent", bank+1))
			if bank > 1 {
				break // the open standard's first values know two banks
			}
			text += fmt.Sprintf("Bank %d at %s: %+.0f %%. ", bank+1, at, math.Round(sum)+0)
			outcome += grade(sum, -8, 8, 20)
		}
	}
	out := b.kept(result{text, outcome})
	b.do("release")
	b.wait(4)
	return out
}

// grade puts a number into classes split at the limits.
func grade(x float64, limits ...float64) string {
	k := 0
	for _, l := range limits {
		if x > l {
			k++
		}
	}
	return string(rune('a' + k))
}

func (b *bay) cutOut() result {
	if !b.idle() {
		return noStart
	}
	drops := make([]float64, b.layout.N())
	for _, c := range b.layout.Cylinders() {
		if !b.idle() {
			return result{"The engine stalls when a cylinder is cut.", "stalls"}
		}
		b.wait(4)
		began := b.e.Now()
		b.attach(practice.Sensors{Crank: true})
		b.wait(2)
		b.do(practice.Action(fmt.Sprintf("unplug injector %d", c)))
		b.wait(1.2)
		b.do(practice.Action(fmt.Sprintf("reconnect injector %d", c)))
		rec := b.taken()
		drops[c-1] = speed(rec.Crank, 58, began, began+2) - speed(rec.Crank, 58, began+2.3, began+2.9)
	}
	usual := median(drops)
	low := make([]float64, len(drops))
	for i, d := range drops {
		if usual > 5 {
			low[i] = 1 - d/usual
		}
	}
	return result{"Speed lost in the first 0.3–0.9 s, rpm by cylinder: " + list(drops, "%.0f") + ".", "weak " + names(low, 0.45)}
}

func (b *bay) road() result {
	if !b.idle() {
		return noStart
	}
	b.do("hold 1800")
	b.wait(5)
	before := b.e.State()
	if before.RPM < 900 {
		return noStart
	}
	b.do("gear 3", "pedal 100")
	b.wait(1)
	first := b.e.State()
	b.wait(4)
	last := b.e.State()
	b.do("gear 0", "release")
	b.wait(5)
	cycles := float64(first.RPM+last.RPM) / 240 * 4
	miss := counted(last.Misfires, first.Misfires, cycles)
	pull := float64(last.RPM-first.RPM) / 4
	text := fmt.Sprintf("Full load, third gear: speed rises by %.0f rpm a second. Misfires, per cent by cylinder: %s.", pull, list(percent(miss), "%.0f"))
	return result{text, "missing " + names(miss, 0.08) + " pulls " + grade(pull, 80, 195)}
}

func (b *bay) current() result {
	if !b.idle() {
		return noStart
	}
	var words, odd []string
	for _, c := range b.layout.Cylinders() {
		rec := b.listen(practice.Sensors{Coil: &practice.CoilSensor{Hz: 20e3, Cylinders: []engine.Cylinder{c}}}, 0.8)
		peak, rise := ramp(rec.CoilAmps)
		words = append(words, fmt.Sprintf("%d: %.1f A in %.1f ms", c, peak, rise*1000))
		switch {
		case peak < 1:
			odd = append(odd, fmt.Sprintf("%d none", c))
		case rise < 1.0e-3 && peak > 6:
			odd = append(odd, fmt.Sprintf("%d steep", c))
		case peak < 5.5:
			odd = append(odd, fmt.Sprintf("%d low", c))
		}
	}
	return b.kept(result{"Coil current, peak and rise: " + strings.Join(words, "   ") + ".", orNone(odd)})
}

// ramp is the highest current and the time from 1 A to 90 % of it, on the
// first whole rise.
func ramp(t practice.Trace) (peak, rise float64) {
	for _, x := range t.X {
		peak = math.Max(peak, float64(x))
	}
	began := -1
	for i, x := range t.X {
		switch {
		case x < 1:
			began = -1
		case began < 0:
			began = i
		case float64(x) > 0.9*peak:
			return peak, float64(i-began) / t.Hz
		}
	}
	return peak, 0
}

func (b *bay) vacuum() result {
	if !b.idle() {
		return noStart
	}
	b.wait(5)
	idle := reading(b.listen(bus("manifold_kpa"), 4), "manifold_kpa")
	b.do("hold 2500")
	b.wait(8)
	held := reading(b.listen(bus("manifold_kpa"), 4), "manifold_kpa")
	out := b.kept(result{fmt.Sprintf("Manifold pressure %.0f kPa at idle, %.0f kPa at 2500 rpm.", idle, held), grade(idle, 37, 45) + grade(held, 38, 46)})
	b.do("release")
	b.wait(4)
	return out
}

func (b *bay) gas() result {
	if !b.idle() {
		return noStart
	}
	gas := b.listen(practice.Sensors{Gas: &practice.GasSensor{BeforeCatalyst: true}}, 25).Gas
	var co2, co, o2, hc float64
	for _, g := range gas[len(gas)-10:] {
		co2, co, o2, hc = co2+g.CO2/10, co+g.CO/10, o2+g.O2/10, hc+g.HCppm/10
	}
	text := fmt.Sprintf("Before the catalyst: CO₂ %.1f %%, CO %.2f %%, O₂ %.1f %%, HC %.0f ppm.", co2, co, o2, hc)
	return b.kept(result{text, "hc " + grade(hc, 600, 2000) + " o2 " + grade(o2, 1.5) + " co " + grade(co, 1.5)})
}

// feel is the size of the shaking once a turn, by least squares on the real
// time stamps.
func (b *bay) feel() result {
	if !b.idle() {
		return noStart
	}
	b.wait(4)
	rec := b.listen(practice.Sensors{Phone: &practice.PhoneSensor{Hz: 200, Level: true}, Crank: true}, 8)
	hz := speed(rec.Crank, 58, rec.Start, rec.End) / 60
	best := 0.0
	for f := hz - 0.4; f <= hz+0.4; f += 0.05 {
		var sum complex128
		for _, s := range rec.Phone {
			sum += complex(s.Z-9.81, 0) * cmplx.Rect(1, -2*math.Pi*f*s.T)
		}
		best = math.Max(best, 2*cmplx.Abs(sum)/float64(len(rec.Phone)))
	}
	return b.kept(result{fmt.Sprintf("Shaking once a turn: %.2f m/s² up and down.", best), grade(best, 0.35)})
}

// signal is the trace of the crank sensor against what the computer has learnt of it.
func (b *bay) signal() result {
	off := float64(b.e.CrankSignal())
	return result{fmt.Sprintf("Marks of the crank signal lie %.1f° from where they were learnt.", off), grade(off, 0.5)}
}

func (b *bay) spray() result {
	if !b.idle() {
		return noStart
	}
	dry := b.misses(10)
	b.do("spray on")
	wet := b.misses(10)
	b.do("spray off")
	more := make([]float64, len(wet))
	for i := range wet {
		more[i] = wet[i] - dry[i]
	}
	return result{"Misfires with mist less without, per cent by cylinder: " + list(percent(more), "%+.0f") + ".", "worse " + names(more, 0.2)}
}

func (b *bay) compression() result {
	b.off()
	bars := make([]float64, b.layout.N())
	for _, c := range b.layout.Cylinders() {
		b.off()
		b.do("pedal 100")
		b.wait(0.5)
		b.attach(practice.Sensors{Pressure: &practice.Indicator{Cylinder: c, Hz: 2000}})
		b.do("crank 2")
		b.wait(2.5)
		rest := math.Inf(1)
		for _, x := range b.taken().Pressure.X {
			bars[c-1] = math.Max(bars[c-1], float64(x))
			rest = math.Min(rest, float64(x))
		}
		bars[c-1] -= math.Max(rest, 0.6)
	}
	b.off()
	best := slices.Max(bars)
	low := make([]float64, len(bars))
	for i, x := range bars {
		low[i] = 1 - x/best
	}
	return result{"Cranking pressure in bar above the air's: " + list(bars, "%.1f") + ".", "low " + names(low, 0.25) + grade(best, 12.2)}
}
