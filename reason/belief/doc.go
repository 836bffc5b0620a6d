// Package belief joins what was seen to what can be wrong: the exact posterior
// over every set of faults a car can have, by default up to two at once, with
// "not a misfire" and "not in the list" among them.
//
//	b, err := belief.New(catalogue, car, evidence)
//	b.Suspects()   // causes at their parts and places, likeliest first
//	b.Cylinders(seating, fault.Idle)
//	b.MovedBy(b.Suspects()[0].Fault)
//
// A fault lives in a part, and moves with it, or at a place; in a rail of coils
// it takes one cylinder or all. Evidence carries where the parts sat, how the
// engine ran and whether the miss was there: what was noted of the miss is a
// circumstance that sharpens the rest, never evidence by itself. So a check that
// finds nothing while the miss is absent says little. A stretch of watching, as
// after a repair, is evidence: [Watched].
//
// The order of the evidence does not matter. Evidence that rules out everything
// gives an error that names the pieces that contradict each other.
package belief
