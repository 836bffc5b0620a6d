package roughroad

import "math"

// What the starter turns: joules of a sound cylinder's compression, the share of
// them it gives back and by how much less a weak one does, friction of a cylinder
// in N·m, and the speed at which the starter pulls no more.
const (
	squeezed  = 45.0
	givenBack = 0.75
	leaking   = 0.5
	rubbing   = 5.0
	freeRPM   = 420.0
)

// cranked is the torque while the starter turns the engine; Weak says which share
// of its compression a cylinder has.
func (r *tape) cranked(a float64) float64 {
	n := float64(len(r.tops))
	torque := n * (r.e.Starter*(1-r.omega*30/math.Pi/freeRPM) - rubbing)
	for k, top := range r.tops {
		x := math.Mod(a-top+2*cycleDeg, cycleDeg)
		t := r.strength[k] * squeezed * motored[int(math.Round(x/step))%steps]
		if t > 0 {
			t *= givenBack - leaking*max(0, 1-r.strength[k])
		}
		torque += t
	}
	return torque
}
