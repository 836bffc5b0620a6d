// Package engine describes petrol engines as the rest of the program needs
// them: which cylinder fires when, who shares what with whom, and the
// arithmetic between crank angle, time and engine orders.
//
// A [Layout] is built from a generic name ("i6"), or from a typed firing order
// ("1-5-3-6-2-4"), with firing angles where the intervals are uneven
// ("1-2@0-405"), and with named sets of cylinders:
//
//	l, err := engine.Parse("1-4-2-5-3-6,banks=1-2-3/4-5-6,drivers=1-4/2-5/3-6")
//
// Two ways of counting meet here and must not be mixed. A [Cylinder] is the
// maker's number, painted on the engine. A firing position is the place in the
// firing order, counted from 0; analyses work in firing positions because the
// engine repeats in them.
//
// One engine cycle is two crank turns, 720 degrees. Harmonic h of the cycle is
// engine order h/2: h = 1 is the half order that one dead cylinder leaves.
package engine
