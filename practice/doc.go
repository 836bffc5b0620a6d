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
// A [Script] does things while the engine runs; [Action] lists them. [Engine]
// is the same engine under one's own hands, [Live] runs it against a clock that
// may be faster than real time. The sub-package folder writes recordings as
// files, exercise hides a fault and scores the search for it.
//
// # Model
//
// The crank moves in steps of one degree. Kinetic energy is the state: ½J(θ)ω²
// changes by the work of the gas and of all torques outside, with the pistons
// inside J(θ), so that energy is conserved and the piston inertia torque is
// exact. In a closed cylinder p·Vⁿ is constant but for burning, which adds
// (n−1)·Vⁿ⁻¹·dQ, and leaks, which take it away at the speed of sound; open
// valves relax the pressure towards the port. Heat follows a Wiebe law with
// cycle-to-cycle spread. The plenum fills with a delay through a throttle that
// chokes. Each firing asks: is there a spark (coil current, energy, breakdown
// by gap and density, boot, plug), can the charge burn (lambda, residual gas,
// luck), and how.
//
// The engine computer sees only what its sensors would show: idle by fast spark
// and slow air, fuel by air meter and oxygen sensor with trims for each bank,
// misfires by crank speed over 200 and 1000 turns, codes that ripen and fade,
// lamp, readiness, injector cut.
//
// # Agreement with reality
//
// Against the recordings of a real 1.84-litre four turning freely at about
// 2000 rpm, with no number tuned to them: healthy half turns agree within 0.1 %
// on both; with injector 2 off the pattern of the four half turns correlates
// at 0.99, its size is 0.77 of the real one (the real flywheel is lighter than
// the default), and the speed falls by 21 % where the real one fell by 19 %.
//
// # Departures
//
//   - One exponent, n = 1.3, for compression and expansion; wall heat is taken
//     off the heat released, not lost over time. Real late expansion is steeper.
//   - Gas exchange is a relaxation with a time constant: no waves in the pipes,
//     no tuning, no valve lift curve, no back-flow of leaks into the plenum. At
//     idle a dead cylinder sucks exhaust back as strongly as a live one puffs,
//     so that a tailpipe recording shows it less than the ear would.
//   - No fuel film on the port wall: an injector's effect comes with the next
//     cycle. Direct injection differs only by what its faults do.
//   - With fixed air, a cut engine reaches two thirds of its loss in 0.3–0.5 s,
//     because pumping is lost too; the 0.6–0.7 s of trade practice is J·ω over
//     the drag torque, which holds here.
//   - The crank never turns backwards; a stalled engine stays where it stopped.
//   - The clutch does not slip: a gear goes in at the matching road speed. The
//     driveline is one spring between crank and car.
//   - Knock, turbocharging, recirculation coolers, cylinder deactivation, twin
//     plugs and multiple sparks are left out.
//   - One thermal mass for the engine, one for each catalyst, whose front face
//     really heats faster.
//   - Breakdown voltage is a formula for uniform gaps scaled to the trade's
//     figures; only its trend is trusted.
//   - The sound is pulses, hiss and hammer blows through fixed filters: right in
//     its orders, not in its timbre.
//   - The lean and rich limits, valve time constants, inertia of the block and
//     what severity 1 of a fault means are judgement; causes.csv and the comment
//     beside each constant say so.
//   - Severity 1 of a shared fault (fuel pressure, plenum leak) may keep the
//     engine from starting or idling, and a [Config] that begins Running is then
//     refused.
//
// # The same on every machine
//
// Random numbers come from PCG-DXSM streams, one for each use, drawn with
// integer arithmetic; sensors never touch the engine. Floating point may still
// differ in the last bits where a compiler fuses multiplication and addition.
// The engine forgets such differences (its loops are stable) and the files
// round far above them, so the bytes come out equal: a test holds a fingerprint,
// found equal on amd64 with and without fused multiply-add, and on 386, arm64,
// ppc64le and s390x.
//
// # Safety
//
// Nothing here touches a car. Pulling coils or injectors on a real, running
// engine means high voltage, fuel and a catalyst that overheats within seconds
// to minutes: follow local law and licensed practice there.
package practice
