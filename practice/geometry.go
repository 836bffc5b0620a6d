package practice

import "math"

// Closed-cycle polytropic exponent. Published: Heywood, Internal Combustion
// Engine Fundamentals, 9.2: 1.3 ± 0.05 for petrol engines.
const polytropic = 1.3

const cycle = 720 // crank-angle steps of one degree in one engine cycle

// slider holds the slider-crank tables of one cylinder on the engine's
// one-degree grid. Index j is the crank angle after firing top dead centre.
type slider struct {
	vol  [cycle + 1]float64 // m³
	dv   [cycle]float64     // vol[j+1] − vol[j]
	vn   [cycle + 1]float64 // volⁿ
	ivn  [cycle + 1]float64 // vol⁻ⁿ
	vg   [cycle + 1]float64 // volⁿ⁻¹
	ease [cycle + 1]float64 // largest volume over vol: a small chamber empties sooner
}

func newSlider(b Build, fraction float64) *slider {
	s := &slider{}
	for j := range s.vol {
		v := b.Volume(float64(j) + fraction)
		s.vol[j] = v
		s.vn[j], s.ivn[j], s.vg[j] = math.Pow(v, polytropic), math.Pow(v, -polytropic), math.Pow(v, polytropic-1)
	}
	for j := range s.ease {
		s.ease[j] = b.Volume(180) / s.vol[j]
	}
	for j := range s.dv {
		s.dv[j] = s.vol[j+1] - s.vol[j]
	}
	return s
}

// Volume is the gas volume of a cylinder in m³ at a crank angle after firing
// top dead centre, in degrees, by slider-crank kinematics.
func (b Build) Volume(deg float64) float64 {
	return b.clearance() + b.pistonArea()*b.Travel(deg)
}

// Travel is the distance of the piston from top dead centre in metres.
func (b Build) Travel(deg float64) float64 {
	r, l := b.StrokeM/2, b.RodM
	sin, cos := math.Sincos(deg * math.Pi / 180)
	return r*(1-cos) + l - math.Sqrt(l*l-r*r*sin*sin)
}

// slope is dx/dθ of the piston, in metres per radian.
func (b Build) slope(deg float64) float64 {
	r, l := b.StrokeM/2, b.RodM
	sin, cos := math.Sincos(deg * math.Pi / 180)
	return r * sin * (1 + r*cos/math.Sqrt(l*l-r*r*sin*sin))
}

func (b Build) pistonArea() float64 { return math.Pi / 4 * b.BoreM * b.BoreM }
func (b Build) swept() float64      { return b.pistonArea() * b.StrokeM }
func (b Build) clearance() float64  { return b.swept() / (b.Compression - 1) }

// inertiaTable is the moment of inertia felt at the crank for each degree:
// flywheel and crank, plus the pistons, which move with dx/dθ. Integrating
// ½J(θ)ω² gives the piston inertia torque exactly (Lagrange).
func inertiaTable(b Build, offsets []float64) []float64 {
	out := make([]float64, cycle+1)
	for i := range out {
		out[i] = b.FlywheelKgM2
		for _, at := range offsets {
			s := b.slope(float64(i) - at)
			out[i] += b.PistonKg * s * s
		}
	}
	return out
}
