package exercise

import (
	"fmt"
	"math"

	"halforder/practice"
)

// meters sets what measures the mixture against what it should say: the air meter
// held at 2500 rpm, where a leak counts for little, against the filling that
// manifold pressure and speed speak for, and each oxygen sensor against the gas.
func (b *bay) meters() result {
	if !b.idle() {
		return noStart
	}
	text, outcome := "", ""
	for bank := range min(len(b.layout.Banks()), 2) {
		rec := b.listen(practice.Sensors{
			Bus: &practice.BusSensor{PerSecond: 20, Names: []string{fmt.Sprintf("lambda_%d", bank+1)}},
			Gas: &practice.GasSensor{Bank: bank + 1, BeforeCatalyst: true},
		}, 25)
		said, real := reading(rec, fmt.Sprintf("lambda_%d", bank+1)), gasLambda(rec.Gas[len(rec.Gas)-10:])
		text += fmt.Sprintf("Bank %d at idle: oxygen sensor λ %.2f, gas λ %.2f. ", bank+1, said, real)
		outcome += grade(said/real, 0.9) // a miss sends its oxygen past the sensor, which then reads lean
	}
	b.do("hold 2500")
	b.wait(8)
	rec := b.listen(bus("rpm", "manifold_kpa", "intake_air_c", "air_g_s"), 5)
	if !b.e.State().Running {
		return noStart
	}
	b.do("release")
	b.wait(4)
	said, due := reading(rec, "air_g_s"), b.filling(reading(rec, "rpm"), reading(rec, "manifold_kpa"), reading(rec, "intake_air_c"))
	text += fmt.Sprintf("Air meter at 2500 rpm: %.1f g/s; pressure and speed speak for %.1f g/s.", said, due)
	return result{text, outcome + grade(said/due, 0.8)}
}

const (
	seaKPa   = 101.325
	airGas   = 287.05 // J/(kg·K)
	zeroC    = 273.15
	wallHeat = 25 // K that the ports add (judgement)
)

// filling is the air in g/s that an engine draws at a speed in rpm, a manifold
// pressure in kPa and intake air in °C: the ideal gas law over the swept volume, less
// what the clearance keeps of the last cycle.
func (b *bay) filling(rpm, kPa, celsius float64) float64 {
	g := b.build
	swept := math.Pi / 4 * g.BoreM * g.BoreM * g.StrokeM
	clearance := swept / (g.Compression - 1)
	each := 1e3 * (kPa*(swept+clearance) - seaKPa*clearance) / (airGas * (celsius + zeroC + wallHeat))
	return 1e3 * each * float64(b.layout.N()) * rpm / 120
}

// gasLambda is the excess air of exhaust gas by Brettschneider's equation (hydrogen
// and oxygen of the fuel 1.7261 and 0.0176 to each carbon, from memory): gas that did
// not burn counts like gas that did.
func gasLambda(gas []practice.Gas) float64 {
	const hydrogen, oxygen, hexane = 1.7261, 0.0176, 6
	var co2, co, o2, hc float64
	for _, g := range gas {
		co2, co, o2, hc = co2+g.CO2, co+g.CO, o2+g.O2, hc+g.HCppm/1e4
	}
	carbon := co2 + co
	water := hydrogen / 4 * 3.5 / (3.5 + co/co2)
	return (co2 + co/2 + o2 + (water-oxygen/2)*carbon) / ((1 + hydrogen/4 - oxygen/2) * (carbon + hexane*hc))
}
