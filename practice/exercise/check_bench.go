package exercise

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/practice"
)

// single are the checks of one cylinder.
var single = map[string]func(*bay, engine.Cylinder) (result, error){
	"plug": (*bay).plug, "boot": (*bay).boot, "spark": (*bay).spark25, "coil-ohms": (*bay).coilOhms, "feed": (*bay).feed,
	"pulse": (*bay).pulse, "wiggle": (*bay).wiggle, "injector-ohms": (*bay).injectorOhms, "leak-down": (*bay).leakDown,
	"swap-coil": swapping("coil"), "swap-plug": swapping("plug"), "swap-boot": swapping("boot"), "swap-injector": swapping("injector"),
}

func (b *bay) plug(c engine.Cylinder) (result, error) {
	if b.idle() { // an old plug shows what it lived through
		b.wait(5)
	}
	b.off()
	p, err := b.e.ReadPlug(c)
	return result{fmt.Sprintf("Plug of cylinder %d: gap %.2f mm, looks %s.", c, p.GapMM, p.Look), p.Look + grade(p.GapMM, 1.25)}, err
}

func (b *bay) boot(c engine.Cylinder) (result, error) {
	b.off()
	look, err := b.e.ReadBoot(c)
	return result{fmt.Sprintf("Boot of cylinder %d: %s.", c, look), look}, err
}

func (b *bay) spark25(c engine.Cylinder) (result, error) {
	b.off()
	jumps, err := b.e.SparkTest(c, 25)
	return yesNo(jumps, fmt.Sprintf("The coil of cylinder %d jumps 25 kV.", c), fmt.Sprintf("The coil of cylinder %d does not jump 25 kV.", c)), err
}

func yesNo(yes bool, a, b string) result {
	if yes {
		return result{a, "yes"}
	}
	return result{b, "no"}
}

func (b *bay) coilOhms(c engine.Cylinder) (result, error) {
	b.off()
	ohms, err := b.e.CoilOhms(c)
	return result{fmt.Sprintf("Primary of coil at cylinder %d: %s.", c, ohm(ohms)), grade(ohms, 0.45, 10)}, err
}

func ohm(x float64) string {
	if math.IsInf(x, 1) {
		return "open"
	}
	return fmt.Sprintf("%.2f Ω", x)
}

func (b *bay) feed(c engine.Cylinder) (result, error) {
	b.off()
	volts, err := b.e.FeedVolts(c)
	return result{fmt.Sprintf("Supply at the coil plug of cylinder %d under current: %.1f V.", c, volts), grade(volts, 2, 11.8)}, err
}

func (b *bay) pulse(c engine.Cylinder) (result, error) {
	b.off()
	flashes, err := b.e.InjectorPulse(c)
	return yesNo(flashes, fmt.Sprintf("The pulse lamp of injector %d flashes.", c), fmt.Sprintf("The pulse lamp of injector %d stays dark.", c)), err
}

func (b *bay) wiggle(c engine.Cylinder) (result, error) {
	if !b.idle() {
		return noStart, nil
	}
	changes, err := b.e.Wiggle(c)
	return b.kept(yesNo(changes, fmt.Sprintf("With the wires of cylinder %d moved the running changes.", c), fmt.Sprintf("Moving the wires of cylinder %d changes nothing.", c))), err
}

func (b *bay) injectorOhms(c engine.Cylinder) (result, error) {
	b.off()
	ohms, err := b.e.InjectorOhms(c)
	return result{fmt.Sprintf("Injector %d: %s.", c, ohm(ohms)), grade(ohms, 100)}, err
}

func (b *bay) leakDown(c engine.Cylinder) (result, error) {
	b.off()
	loss, heard, err := b.e.LeakDown(c)
	text := fmt.Sprintf("Cylinder %d loses %.0f %% (orifice 1.016 mm, 5.5 bar); heard at the %s.", c, loss, heard)
	if heard == "nowhere clearly" {
		text = fmt.Sprintf("Cylinder %d loses %.0f %% (orifice 1.016 mm, 5.5 bar).", c, loss)
	}
	return result{text, heard}, err
}

// swapping changes a part with the cylinder asked for, else with one that is no
// neighbour in the firing order, watches, and changes back.
func swapping(part string) func(*bay, engine.Cylinder) (result, error) {
	return func(b *bay, c engine.Cylinder) (result, error) {
		mate := b.mate
		if mate == 0 {
			mate = b.layout.At(b.layout.Position(c) + max(b.layout.N()/2, 1))
		}
		if err := b.layout.Check(c); err != nil || mate == c {
			return result{"There is no other cylinder to swap with.", "no"}, err
		}
		before := b.missed
		if before == nil {
			before = b.watchMiss()
			b.missed = before
		}
		b.off()
		swap := practice.Action(fmt.Sprintf("swap %s %d %d", part, c, mate))
		if err := b.e.Do(swap); err != nil {
			return result{}, err
		}
		after := b.watchMiss()
		b.off()
		b.do(swap)
		if before == nil || after == nil {
			return noStart, nil
		}
		verdict := fate(before[c-1], slices.Max(before), after[c-1], after[mate-1])
		text := fmt.Sprintf("Cylinder %d missed %.0f %% before; with the %s of cylinder %d it misses %.0f %%, and cylinder %d %.0f %%: %s. Changed back.",
			c, 100*before[c-1], part, mate, 100*after[c-1], mate, 100*after[mate-1], verdict)
		return result{text, verdict}, nil
	}
}

// watchMiss counts at idle and, since some faults show only there, under load;
// nil when the engine does not run.
func (b *bay) watchMiss() []float64 {
	if !b.idle() {
		return nil
	}
	idle := b.misses(8)
	b.do("hold 1800")
	b.wait(4)
	if b.e.State().RPM < 900 {
		return idle
	}
	b.do("gear 3", "pedal 100")
	b.wait(1)
	load := b.misses(3)
	b.do("gear 0", "release")
	b.wait(4)
	for i := range idle {
		idle[i] = math.Max(idle[i], load[i])
	}
	return idle
}

// fate says where a miss is after a swap. The computer's counters name a neighbour now
// and then: against the loudest, a few do not count.
func fate(before, loudest, after, mate float64) string {
	const least, echo = 0.1, 2
	present := max(least, after/echo, mate/echo)
	switch {
	case before < max(least, loudest/echo):
		return "no miss to follow"
	case after < present && mate >= present:
		return "it followed the part"
	case after >= present && mate < present:
		return "it stayed"
	case after < present:
		return "it vanished"
	}
	return "both miss"
}

func (b *bay) balance() result {
	b.off()
	falls, err := b.e.InjectorBalance()
	if err != nil {
		return result{err.Error(), "no"}
	}
	usual := median(falls)
	low := make([]float64, len(falls))
	for i, f := range falls {
		low[i] = usual - f
	}
	return result{"Fall of rail pressure in kPa by injector: " + list(falls, "%.0f") + ".", "low " + names(low, 10)}
}

func (b *bay) fuelPressure() result {
	b.off()
	running, rest, err := b.e.FuelPressure()
	if err != nil {
		return result{err.Error(), "no"}
	}
	return result{fmt.Sprintf("Rail pressure %.0f kPa with the pump running, %.0f kPa after five minutes.", running, rest), grade(running, 300) + grade(rest/running, 0.6)}
}

func (b *bay) fuelVolume() result {
	b.off()
	flow, err := b.e.FuelVolume()
	if err != nil {
		return result{err.Error(), "no"}
	}
	return result{fmt.Sprintf("The pump delivers %.1f g/s.", flow), grade(flow, 20)}
}

func (b *bay) fuelSample() result {
	look := b.e.FuelSample()
	return result{"The sample is " + look + ".", look}
}

func (b *bay) smoke() result {
	b.off()
	where, err := b.e.SmokeTest()
	if err != nil {
		return result{err.Error(), "no"}
	}
	return result{"Smoke comes out at: " + orNone(where) + ".", orNone(where)}
}

func (b *bay) valve(which string) result {
	leaks, err := b.e.ValveOff(which)
	if err != nil {
		return result{err.Error(), "no"}
	}
	return yesNo(leaks, "With the hose pinched the idle changes: the "+which+" valve lets gas through.", "Pinching the hose of the "+which+" valve changes nothing.")
}

func (b *bay) cam() result {
	var words, late []string
	for i := range b.layout.Banks() {
		deg, err := b.e.CamLate(i + 1)
		if err != nil {
			return result{err.Error(), "no"}
		}
		words = append(words, fmt.Sprintf("bank %d: %+.0f°", i+1, deg))
		if deg > 6 {
			late = append(late, fmt.Sprint(i+1))
		}
	}
	return result{"Cam against its mark, crank degrees late: " + strings.Join(words, ", ") + ".", orNone(late)}
}

func (b *bay) backPressure() result {
	if !b.idle() {
		return noStart
	}
	b.do("hold 2500")
	b.wait(8)
	var bars []float64
	for i := range b.layout.Banks() {
		p, err := b.e.BackPressure(i + 1)
		if err != nil {
			return result{err.Error(), "no"}
		}
		bars = append(bars, p)
	}
	out := b.kept(result{"Exhaust pressure in kPa by bank at 2500 rpm: " + list(bars, "%.1f") + ".", grade(slices.Max(bars), 8)})
	b.do("release")
	b.wait(4)
	return out
}

func (b *bay) coolant() result {
	b.off()
	falls, err := b.e.CoolantPressure()
	if err != nil {
		return result{err.Error(), "no"}
	}
	return yesNo(falls, "Pressure in the cooling system falls.", "Pressure in the cooling system holds.")
}
