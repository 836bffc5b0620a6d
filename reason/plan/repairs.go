package plan

import (
	"halforder/engine"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// addRepairs numbers the faults that are left and the repairs of all worlds.
func (pl *planner) addRepairs() {
	units := map[string]int{}
	refs := map[int]faultRef{}
	for _, w := range pl.worlds {
		var faults []faultRef
		for _, f := range w.Faults {
			if cause, err := pl.cat.Cause(pl.b.FaultAt(f).Cause); err != nil || cause.Unlisted() || len(pl.touched(f)) == 0 {
				continue
			}
			ref, ok := refs[f]
			if !ok {
				ref = faultRef(len(pl.p.fixers))
				refs[f] = ref
				pl.p.fixers = append(pl.p.fixers, pl.fixersOf(f, units))
			}
			faults = append(faults, ref)
		}
		if len(w.Faults) == 0 {
			faults = append(faults, pl.notMisfire(units))
		}
		pl.p.worlds = append(pl.p.worlds, faults)
	}
}

func (pl *planner) notMisfire(units map[string]int) faultRef {
	cause, err := pl.cat.Cause(fault.NotMisfire)
	if err == nil {
		if r := pl.cat.RepairOf(cause, pl.car.Ignition, pl.car.Injection); r != nil {
			u := pl.unitFor(r, belief.Site{Lives: fault.Nowhere, Name: "no cylinder"}, nil, units)
			pl.p.fixers = append(pl.p.fixers, []int{u})
			return faultRef(len(pl.p.fixers) - 1)
		}
	}
	pl.p.fixers = append(pl.p.fixers, nil)
	return faultRef(len(pl.p.fixers) - 1)
}

func (pl *planner) fixersOf(f int, units map[string]int) []int {
	at := pl.b.FaultAt(f)
	cause, err := pl.cat.Cause(at.Cause)
	if err != nil {
		return nil
	}
	r := pl.cat.RepairOf(cause, pl.car.Ignition, pl.car.Injection)
	if r == nil {
		return nil
	}
	return []int{pl.unitFor(r, whole(at.Site), pl.placesOf(at.Site, f), units)}
}

// whole is the part that is renewed: of a rail of coils always all of it.
func whole(s belief.Site) belief.Site {
	if s.Inside != 0 {
		s.Inside, s.Name = 0, string(s.Part)
	}
	return s
}

// placesOf lists the cylinders at which a repair is done now.
func (pl *planner) placesOf(s belief.Site, f int) []engine.Cylinder {
	if s.Inside != 0 {
		return pl.o.Seating.Where(s.Kind, s.Part)
	}
	return pl.touched(f)
}

func (pl *planner) unitFor(r *fault.Repair, site belief.Site, cylinders []engine.Cylinder, units map[string]int) int {
	key := r.Code + "|" + string(site.Lives) + "|" + site.Name
	u, ok := units[key]
	if !ok {
		u = len(pl.units)
		units[key] = u
		pl.units = append(pl.units, unit{r, site, cylinders})
		pl.p.repairs = append(pl.p.repairs, pl.costRepair(r, cylinders))
	}
	return u
}

// proofMinutes is spent after a repair to see whether it helped: common
// practice, no source.
const proofMinutes = 8

func (pl *planner) costRepair(r *fault.Repair, cylinders []engine.Cylinder) repair {
	out := repair{
		cost:     pl.money(r.MinutesEasy+proofMinutes) + r.Parts,
		needless: r.Needless + pl.cat.Setting("lost-trust"),
	}
	if hard := pl.hardOf(r.Reach, cylinders); len(hard) > 0 {
		out.cover, out.opening = pl.covers(hard), pl.money(r.MinutesHard-r.MinutesEasy)
	}
	return out
}
