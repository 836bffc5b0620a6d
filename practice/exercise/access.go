package exercise

// access is what it takes to get at the parts: nothing, a plenum that has to come off
// first, or one that is off already. It stays off until the car is driven.
type access struct{ buried, open bool }

// coverMinutes is from how many minutes more on a buried engine a check or repair is
// under the plenum. Judgement.
const coverMinutes = 40

// minutes of what takes so long on an easy engine and on a buried one.
func (a access) minutes(easy, buried float64) float64 {
	if a.buried && !(a.open && under(easy, buried)) {
		return buried
	}
	return easy
}

// after is the access once that was done.
func (a access) after(easy, buried float64) access {
	a.open = a.open || a.buried && under(easy, buried)
	return a
}

func under(easy, buried float64) bool { return buried-easy >= coverMinutes }
