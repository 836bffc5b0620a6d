// Package crank weighs every firing of an engine by the speed of its
// crankshaft, as the teeth or marks of a wheel pass a sensor.
//
// The steps, each a file of its own:
//
//	trace    → edges    trace.go: teeth in an analogue signal
//	edges    → marks    decode.go, learn.go, places.go: which mark of which wheel is each edge
//	marks    → angle    clock.go, cam.go: where in the 720° of the cycle
//	angle    → lateness profile.go: the mean cycle at each speed
//	lateness → works    model.go, spacing.go, cyclenoise.go, judge.go: which cylinders give how much
//	marks    → firing   weigh.go, shapes.go, firings.go, tune.go: each firing weighed
//	firing   → misses   events.go, heaps.go, echo.go, stumble.go, chance.go, strength.go:
//	                    misses or slow burns, their echoes, stumbles
//
// [Analyse] does all of it for a recording, [Stream] while edges arrive. A
// [Reference] ties the wheel to a cylinder; [LearnReference] finds it from one
// recorded cut; wheels.csv knows a few. Without any, findings are anonymous.
//
// [Cranking] and [StarterCompression] compare the compression of the cylinders
// while the starter turns the engine (cranking.go, marksmoved.go, current.go).
//
// All work is measured against the crank's own energy ½Jω², which needs no
// data of the engine: a firing that brings the share e of it makes the marks
// after it come early by half of e. What a dead cylinder takes away follows
// only roughly from physics (see fullWork), so shares of "a healthy one" carry
// that uncertainty until a dead cylinder or clear misses give the scale.
//
// The faster the engine, the more cylinders and the fewer marks, the less one
// firing moves the crank against the jitter of an edge. Weighers then look over
// longer windows and keep out less of the neighbours; misses are taken deepest
// first and their echoes subtracted; and where single misses are lost in the
// noise the finding says so instead of calling the engine sound.
//
// What repeats each turn (spacing of the marks, a wheel off centre, piston
// inertia, compression) cannot be told from a loss that repeats each turn. It
// enters the model as unknowns with honest priors, so half orders speak and
// whole orders stay silent exactly as far as they must.
package crank
