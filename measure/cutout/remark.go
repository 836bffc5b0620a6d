package cutout

import (
	"fmt"

	"halforder/engine"
)

// remark adds what the technician should know of the test itself.
func (a *analysis) remark(r *Result, guesses []guess) {
	note := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	switch {
	case len(guesses) == 0 && len(a.Called) > 0:
		note("%d cuts were called and %d can be seen: too few to name them by order. Press the button at each cut.", len(a.Called), len(a.cuts))
	case len(r.Cuts) == 0:
		note("No cut was found. Leave each cylinder off for 3–5 s with 10 s between, and press the button or say the order.")
	case len(a.Marks) == 0 && len(a.Called) == 0:
		note("%d cuts were found, but nobody said which cylinders they were: no cylinder can be named.", len(r.Cuts))
	case len(guesses) > 1:
		note("The cuts were named by their order and rhythm; there are %d ways to do it. Press the button to be sure.", len(guesses))
	}
	a.remarkCuts(r, note)
	if missing := notCut(r.Cylinders); len(missing) > 0 && len(r.Cuts) > 0 {
		note("Never cut: cylinder %s.", engine.Listed(missing))
	}
	if bad := append(r.by(Weak), r.by(Dead)...); len(bad) > 0 && a.Means.Spark() {
		note("Do not go on running with fuel on cylinder %s: it burns in the catalyst.", engine.Listed(sorted(bad)))
	}
}

func (a *analysis) remarkCuts(r *Result, note func(string, ...any)) {
	var disturbed, stalled []engine.Cylinder
	seenCuts := 0
	for _, c := range r.Cuts {
		if c.Disturbed {
			disturbed = append(disturbed, c.Cylinders...)
		}
		if c.Stalled {
			stalled = append(stalled, c.Cylinders...)
		}
		if c.Seen || c.EndSeen {
			seenCuts++
		}
	}
	if len(stalled) > 0 {
		note("The engine stopped when cylinder %s was cut: that cylinder carried its share. Hold 1,200–1,500 rpm next time.", engine.Listed(unique(stalled)))
	}
	if len(disturbed) > 0 {
		note("At a cut of cylinder %s something else changed too (fan, compressor, foot): it counts less. Switch consumers off and cut again.", engine.Listed(unique(disturbed)))
	}
	if len(r.Cuts) > 0 && seenCuts > 0 && !a.showsCuts(r.Cuts) {
		note("The speed does not show the cuts clearly and was left out.")
	}
	if len(r.Cuts) > 0 && seenCuts == 0 {
		note("No cut shows in the speed: the idle control makes up for it, or the connectors stayed on. Use sound or crank, or hold the throttle at 1,200–1,500 rpm.")
	}
	if len(r.Loads) > 0 {
		note("%d other changes of load were seen and taken out.", len(r.Loads))
	}
}

func notCut(cylinders []Cylinder) (out []engine.Cylinder) {
	for _, c := range cylinders {
		if c.Cuts == 0 {
			out = append(out, c.Number)
		}
	}
	return out
}

func unique(set []engine.Cylinder) (out []engine.Cylinder) {
	for _, c := range sorted(set) {
		if len(out) == 0 || out[len(out)-1] != c {
			out = append(out, c)
		}
	}
	return out
}
