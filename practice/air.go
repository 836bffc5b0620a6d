package practice

import "math"

// Gas constants of dry air. Published: US Standard Atmosphere 1976 (R) and
// general handbooks (γ).
const (
	gasR    = 287.05 // J/(kg·K)
	zeroC   = 273.15 // K
	seaPa   = 101325.0
	chokedK = 0.6847 // √γ·(2/(γ+1))^((γ+1)/(2(γ−1))), γ = 1.4
	critPR  = 0.528  // pressure ratio at which the throttle chokes
)

// Air is the day and the place.
type Air struct {
	AltitudeM float64 // height above sea level
	TempC     float64 // air temperature in °C
	Wet       bool    // damp wells and leads: faults of the wet regime show
}

// Pressure of the air in Pa at a height in metres. Published: US Standard
// Atmosphere 1976, troposphere.
func Pressure(altitudeM float64) float64 {
	return seaPa * math.Pow(1-altitudeM/44329, 5.255876)
}

// orifice is the mass flow in kg/s through an area in m² from pressure p0 (Pa,
// air at T0 K) into p. Subcritical flow follows the ellipse of ISO 6358.
func orifice(area, p0, t0, p float64) float64 {
	if p >= p0 || area <= 0 {
		return 0
	}
	flow := chokedK * area * p0 / math.Sqrt(gasR*t0)
	if pr := p / p0; pr > critPR {
		u := (pr - critPR) / (1 - critPR)
		flow *= math.Sqrt(1 - u*u)
	}
	return flow
}
