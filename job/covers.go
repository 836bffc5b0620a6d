package job

import (
	"slices"

	"halforder/engine"
	"halforder/reason/fault"
)

// wayOpen lists the cylinders whose cover is off: something under it was got at since
// the car was last put together, to be driven or proven. What lies over a bank comes off
// as a whole.
func (c *Card) wayOpen(cat *fault.Catalogue) []engine.Cylinder {
	open := map[int]bool{}
	for _, e := range c.Timeline {
		at, closed := c.gotAt(cat, e.Body)
		if closed {
			clear(open)
		}
		for _, cylinder := range at {
			if c.Car().HardAt(cylinder) {
				open[c.Layout().Bank(cylinder)] = true
			}
		}
	}
	return slices.DeleteFunc(c.Layout().Cylinders(), func(x engine.Cylinder) bool {
		return !c.Car().HardAt(x) || !open[c.Layout().Bank(x)]
	})
}

// gotAt lists the cylinders that an entry says coil, plug or injector were got at, and
// reports whether the car was put together for it.
func (c *Card) gotAt(cat *fault.Catalogue, b Body) (at []engine.Cylinder, closed bool) {
	switch b := b.(type) {
	case *Entered:
		if k, err := cat.Check(b.Check); err == nil && k.Reach {
			at = c.placesOf(b.Results)
		}
		return at, b.Regime == fault.Loaded
	case *Swapped:
		if k, err := cat.SwapCheck(b.Part, c.Opened.Ignition, c.Opened.Injection); err == nil && k.Reach {
			at = []engine.Cylinder{b.A, b.B}
		}
	case *Repaired:
		if b.Part != "" {
			return []engine.Cylinder{b.Cylinder}, false
		}
		if r, err := cat.Repair(b.Repair); err == nil && r.Reach {
			at = b.Cylinders
			if len(at) == 0 {
				at = c.Layout().Cylinders()
			}
		}
	case *Proved:
		return nil, true
	}
	return at, false
}

// placesOf are the cylinders of results, all where none is named.
func (c *Card) placesOf(results []Result) []engine.Cylinder {
	var out []engine.Cylinder
	for _, r := range results {
		if r.Cylinder == 0 {
			return c.Layout().Cylinders()
		}
		out = append(out, r.Cylinder)
	}
	return out
}
