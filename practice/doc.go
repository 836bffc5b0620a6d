// Package practice is an engine that does not exist: true physics, faults and
// sensors, so that every analysis has a judge and a technician can practise
// without a car.
//
//	layout, _ := engine.Parse("i4")
//	cfg := practice.Defaults(layout)
//	fault, _ := practice.ParseFault("coil-open@3")
//	cfg.Faults = append(cfg.Faults, fault)
//	rec, truth, err := practice.Run(cfg, practice.Watch(30), practice.Everything())
//
// rec holds what the sensors saw, truth what happened: every firing with its
// cylinder, time, work and whether it burnt. An analysis gets rec; only tests
// compare with truth.
//
// A [Script] does things while the engine runs (see [Action]); [Engine] is the
// same engine under one's own hands, and [Live] runs it against a clock that
// may be faster than real time.
package practice
