package catalyst

import "math"

// Petrol and gas constants of the model. Sources: methods notes G, trade notes
// 3.10 (first principles; no published measurement was found).
const (
	petrolJPerKg = 43e6   // lower heating value
	airPerFuel   = 14.7   // kg of air per kg of petrol, stoichiometric
	gasJPerKgK   = 1150.0 // heat capacity of exhaust gas
)

// Model is one catalyst as a lump of ceramic in a stream of gas.
type Model struct {
	BrickJPerK float64 // heat capacity of the brick
	Feeding    int     // cylinders whose exhaust it sees
}

// BrickJPerK is a brick of 1 kg at 1000 J/kgK, the one of trade notes 3.10.
const BrickJPerK = 1000.0

// Equilibrium is the rise in kelvin above the inlet gas when all fuel of
// `unburnt` cylinders burns in the catalyst for ever:
//
//	ΔT = unburnt/m · LHV / ((AFR+1)·cp)
func (m Model) Equilibrium(unburnt float64) float64 {
	return unburnt / float64(m.Feeding) * petrolJPerKg / ((airPerFuel + 1) * gasJPerKgK)
}

// TimeConstant is how fast the brick follows, in seconds, at a gas flow through
// it in grams per second; +Inf without flow.
func (m Model) TimeConstant(flow float64) float64 {
	if !(flow > 0) {
		return math.Inf(1)
	}
	return m.BrickJPerK / (flow * 1e-3 * gasJPerKgK)
}

// Rise is the temperature above the inlet in kelvin after seconds at constant
// flow (g/s), beginning at start.
func (m Model) Rise(start, unburnt, flow, seconds float64) float64 {
	end := m.Equilibrium(unburnt)
	return end + (start-end)*math.Exp(-seconds/m.TimeConstant(flow))
}

// SecondsTo is how long it takes from start to reach limit (kelvin above the
// inlet): 0 when already there, +Inf when it never will.
func (m Model) SecondsTo(limit, start, unburnt, flow float64) float64 {
	end := m.Equilibrium(unburnt)
	switch {
	case start >= limit:
		return 0
	case end <= limit:
		return math.Inf(1)
	}
	return m.TimeConstant(flow) * math.Log((end-start)/(end-limit))
}
