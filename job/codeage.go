package job

import (
	"slices"

	"halforder/engine"
	"halforder/reason/fault"
)

// handled is what was done to the cylinders since the codes were cleared that may
// have stored codes of its own.
type handled struct {
	swaps []Swapped         // there and back
	cut   []engine.Cylinder // unplugged to see what changes
}

func (h handled) count() int { return len(h.swaps) + len(h.cut) }

// allCut reports whether no cylinder was left alone.
func (h handled) allCut(l engine.Layout) bool {
	return !slices.ContainsFunc(l.Cylinders(), func(c engine.Cylinder) bool { return !slices.Contains(h.cut, c) })
}

// moves reports whether parts of a kind changed places.
func (s Swapped) moves(kind fault.PartKind) bool {
	return s.Part == kind || slices.Contains(s.Along, kind)
}

// CodesDoubt says why codes read now may be of what was handled since they were
// cleared: they are noted, and say nothing of that. Empty: they may not.
func (c *Card) CodesDoubt() string {
	if h, known := c.handledSinceClearing(); known && h.count() == 0 {
		return ""
	}
	return "cylinders were cut or parts moved since codes were last cleared, and what they say of those does not count: clear them, let it run and read again"
}

// handledSinceClearing is known where all that was moved is back and nothing was
// repaired. Else codes typed now are of before or after that, nobody knows, and say
// nothing.
func (c *Card) handledSinceClearing() (h handled, known bool) {
	since := c.codeRuns.since
	for _, r := range c.Repairs {
		if r.Seq > since {
			return h, false
		}
	}
	for _, s := range c.Swaps {
		if s.Seq > since {
			h.swaps = append(h.swaps, s.What)
		}
	}
	for _, r := range c.Readings {
		if r.Seq > since && r.What.Check == cutCheck {
			for _, x := range r.What.Results {
				h.cut = append(h.cut, x.Cylinder)
			}
		}
	}
	for _, t := range c.Heats {
		if t.Seq > since { // a cut-out test
			h.cut = append(h.cut, c.Layout().Cylinders()...)
		}
	}
	return h, c.Seating.Equal(c.codeRuns.seating)
}

// certain keeps what the codes surely say of the cylinders as they are: one that
// was cut may have been named for that, and one at which a part was swapped, but
// for a circuit whose own part stayed.
func (r codeRun) certain(results []Result) []Result {
	circuits := map[string][]fault.PartKind{"injector": {fault.Injector, fault.SecondInjector}, "coil": {fault.Coil, fault.SecondCoil}}
	return slices.DeleteFunc(results, func(x Result) bool {
		own, circuit := circuits[x.Outcome]
		return slices.Contains(r.cut, x.Cylinder) || slices.ContainsFunc(r.swaps, func(s Swapped) bool {
			here := s.A == x.Cylinder || s.B == x.Cylinder
			return here && (!circuit || slices.ContainsFunc(own, s.moves))
		})
	})
}
