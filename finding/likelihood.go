package finding

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// State is what a measurement can see of one cylinder.
type State byte

// The states, by the letter they have in a pattern.
const (
	Works State = '.'
	Weak  State = 'w'
	Dead  State = 'd'
)

// Pattern is the joint state of all cylinders: one State letter per firing, in
// firing order. ".d...." is a six with the second to fire dead.
type Pattern string

// AllWork is the pattern of n working cylinders.
func AllWork(n int) Pattern {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(Works)
	}
	return Pattern(b)
}

// With is the pattern with the firing at position in state s.
func (p Pattern) With(position int, s State) Pattern {
	b := []byte(p)
	b[position] = byte(s)
	return Pattern(b)
}

// Count is how many cylinders are in state s.
func (p Pattern) Count(s State) int { return strings.Count(string(p), string(rune(s))) }

// Rotate starts the pattern k firings later.
func (p Pattern) Rotate(k int) Pattern {
	n := len(p)
	if n == 0 {
		return p
	}
	k = ((k % n) + n) % n
	return p[k:] + p[:k]
}

// Canonical is the alphabetically least rotation: the same for all patterns
// that differ only in which cylinder comes first.
func (p Pattern) Canonical() Pattern {
	best := p
	for k := 1; k < len(p); k++ {
		if r := p.Rotate(k); r < best {
			best = r
		}
	}
	return best
}

// Likelihood is ln P(what was measured | pattern), up to a constant that is the
// same for all patterns.
//
// When Anonymous, the measurement cannot name a cylinder: the keys are
// canonical patterns and every rotation is equally likely.
type Likelihood struct {
	Anonymous bool                `json:"anonymous,omitempty"`
	Log       map[Pattern]float64 `json:"log"`
	Else      float64             `json:"else"` // any pattern not in Log
}

// Of is the log-likelihood of a pattern.
func (l *Likelihood) Of(p Pattern) float64 {
	if l.Anonymous {
		p = p.Canonical()
	}
	if v, ok := l.Log[p]; ok {
		return v
	}
	return l.Else
}

// Check reports what makes the likelihood unusable for an engine of n
// cylinders: a pattern of another length or letter, or a value that is no
// number. +Inf is refused, −Inf (impossible) too: nothing measured is certain.
func (l *Likelihood) Check(n int) error {
	if bad(l.Else) {
		return errors.New("likelihood of the unlisted patterns is not a finite number")
	}
	for p, v := range l.Log {
		if len(p) != n {
			return fmt.Errorf("pattern %q has %d firings, the engine has %d", p, len(p), n)
		}
		for _, s := range []byte(p) {
			if s != byte(Works) && s != byte(Weak) && s != byte(Dead) {
				return fmt.Errorf("pattern %q: letter %q is none of . w d", p, s)
			}
		}
		if bad(v) {
			return fmt.Errorf("likelihood of pattern %q is not a finite number", p)
		}
	}
	return nil
}

func bad(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }

// MissLikeliest reports whether some pattern with a cylinder that does not work
// explains what was measured better than all cylinders at work.
func (l *Likelihood) MissLikeliest(n int) bool {
	sound := l.Of(AllWork(n))
	for p, v := range l.Log {
		if v > sound && p.Count(Works) < n {
			return true
		}
	}
	return l.Else > sound
}
