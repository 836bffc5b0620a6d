package practice

import "halforder/engine"

// State is what a person sees on the dashboard and in the computer.
type State struct {
	T         float64
	RPM       engine.RPM
	Running   bool
	Lamp      Lamp
	Codes     []Code
	Readiness Readiness
	CatalystC []float64 // by bank
	// Misfires by cylinder − 1: in the running and in the last full block of
	// 200 and 1000 crank turns, and since the codes were cleared.
	Misfires200, LastMisfires200   []int
	Misfires1000, LastMisfires1000 []int
	Misfires                       []int
	InjectorsCut                   []engine.Cylinder
	CoolantC                       float64
}

// State reads dashboard and computer.
func (e *Engine) State() State {
	k := e.computer
	out := State{
		T: e.now, RPM: e.rpm(), Running: e.omega > 30 && !e.cranking, Lamp: e.lamp(), Readiness: k.ready.report(), CoolantC: e.heat.coolantC,
		Misfires200: copyOf(k.monitor.block2), LastMisfires200: copyOf(k.monitor.last2),
		Misfires1000: copyOf(k.monitor.block10), LastMisfires1000: copyOf(k.monitor.last10), Misfires: copyOf(k.monitor.total),
	}
	for _, c := range k.codes.codes {
		out.Codes = append(out.Codes, *c)
	}
	for _, c := range e.catalyst {
		out.CatalystC = append(out.CatalystC, c.celsius)
	}
	for i, cut := range k.cut {
		if cut {
			out.InjectorsCut = append(out.InjectorsCut, engine.Cylinder(i+1))
		}
	}
	return out
}

func copyOf(counts []int) []int { return append([]int(nil), counts...) }

// PartAt names the part that sits at a cylinder, "coil B".
func (e *Engine) PartAt(site Site, c engine.Cylinder) string { return e.shelf.at(site, c).Label }
