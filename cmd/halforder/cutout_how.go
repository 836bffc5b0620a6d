package main

import (
	"fmt"
	"slices"

	"halforder/engine"
	"halforder/measure/catalyst"
	"halforder/measure/cutout"
)

type cutoutHowCmd struct {
	Cylinder  int           `arg:"" help:"Cylinder to cut."`
	Engine    engine.Layout `required:"" placeholder:"LAYOUT" help:"Engine layout: a name or a firing order (see: halforder engines)."`
	Ignition  string        `default:"coil-on-plug" enum:"coil-on-plug,smart-coil,cassette,near-plug,wasted-spark,distributor,twin-plug" help:"coil-on-plug, smart-coil, cassette, near-plug, wasted-spark, distributor or twin-plug."`
	Injection string        `default:"port" enum:"port,direct,both" help:"port, direct or both."`
	Dead      []int         `placeholder:"CYLINDER" help:"Cylinders known to be dead already."`
	JSON      bool          `help:"Print as JSON."`
}

func (c *cutoutHowCmd) Run(r *run) error {
	var dead []engine.Cylinder
	for _, d := range c.Dead {
		if err := c.Engine.Check(engine.Cylinder(d)); err != nil {
			return badInput(fmt.Errorf("--dead: %w", err))
		}
		dead = append(dead, engine.Cylinder(d))
	}
	ways, err := cutout.Ways(c.Engine, cutout.Ignition(c.Ignition), cutout.Injection(c.Injection), engine.Cylinder(c.Cylinder), dead...)
	if err != nil {
		return badInput(err)
	}
	if c.JSON {
		return r.printJSON(ways)
	}
	if len(ways) == 0 {
		r.printLine(0, "%s", "No safe way to cut one cylinder here: never pull a lead. Use sound, crank speed or the misfire counters.")
	}
	printWays(r, ways)
	return nil
}

// printWays prints the cautions that all ways share once, before anything is touched,
// then the ways with their own.
func printWays(r *run, ways []cutout.Way) {
	if len(ways) == 0 {
		return
	}
	for _, caution := range ways[0].Cautions {
		if inAll(ways, caution) {
			r.printLine(0, "! %s", caution)
		}
	}
	for i, w := range ways {
		r.printLine(0, "%d. %s", i+1, w.Title)
		for _, caution := range w.Cautions {
			if !inAll(ways, caution) {
				r.printLine(3, "! %s", caution)
			}
		}
		for _, s := range w.Steps {
			r.printLine(3, "- %s", s)
		}
	}
	printLimits(r, ways)
}

// printLimits prints how long the means among ways may last.
func printLimits(r *run, ways []cutout.Way) {
	s := catalyst.Careful
	if slices.ContainsFunc(ways, func(w cutout.Way) bool { return w.Means.Spark() }) {
		r.printLine(0, "Coil off: %.0f s, %.0f s at the most, then %.0f s on all cylinders; %.0f s in all on one visit, none under load.",
			s.SparkSeconds, s.SparkHard, s.Recovery, s.SparkTotal)
	}
	if slices.ContainsFunc(ways, func(w cutout.Way) bool { return !w.Means.Spark() }) {
		r.printLine(0, "Injector off: %.0f s at the most.", s.InjectorHard)
	}
}

func inAll(ways []cutout.Way, caution string) bool {
	for _, w := range ways {
		if !slices.Contains(w.Cautions, caution) {
			return false
		}
	}
	return true
}
