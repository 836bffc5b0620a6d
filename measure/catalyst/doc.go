// Package catalyst keeps the books of the heat that unburnt fuel makes in a
// catalyst: how hot a cut-out test has made it already, how many seconds the
// next cut may last, how long to wait, and when to stop at once.
//
// The model is one lump of ceramic per catalyst ([Model]): the fuel and air of
// a cylinder without spark burn in the catalyst that sees its exhaust, the gas
// flow carries the heat away. It is an estimate from first principles, never a
// measurement: the front face heats faster than the mean, so [Careful], the
// default, counts more heat than the model says and allows less
// ([Setting.Departure] is the sentence that says so).
//
// A [Ledger] is told what the engine does whenever that changes, and asked at
// any time:
//
//	book, err := catalyst.New(layout, catalyst.Careful)
//	book.Set(now, catalyst.Condition{Load: catalyst.Idle})
//	a := book.Before(now, catalyst.Condition{Load: catalyst.Idle, NoSpark: []engine.Cylinder{3}})
//	// a.Seconds, a.HardSeconds, a.WaitSeconds, a.Why
//	book.Set(now, catalyst.Condition{Load: catalyst.Idle, NoSpark: []engine.Cylinder{3}})
//	if s := book.During(now); s.Stop { … }
//
// A Ledger holds plain values, marshals to JSON and goes on from there: it is
// kept with the job, as the steps it was told ([Ledger.Follow]). Time comes from
// the caller.
package catalyst
