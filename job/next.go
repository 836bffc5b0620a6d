package job

import (
	"halforder/finding"
	"halforder/reason/belief"
	"halforder/reason/plan"
)

// Circumstances are what the card says of the next step: where the parts sit,
// how the complaint shows, what the job forbids.
func (c *Card) Circumstances() plan.Options {
	o := plan.Options{Seating: c.Seating, Regime: c.Opened.Regime, Miss: c.MissNow(), Hybrid: c.Opened.Hybrid}
	if c.Opened.Lamp == LampFlashing {
		o.Forbids = []string{"road"} // raw fuel in a hot catalyst: no drive to find out more
	}
	return o
}

// MissNow is whether the miss is there, as the last entry that tells says. A
// change of the car since makes it unknown again.
func (c *Card) MissNow() belief.Presence {
	var at int64
	now := belief.Unknown
	if c.Opened.EveryS == 0 {
		now = belief.Present // a steady complaint, until something says otherwise
	}
	tell := func(seq int64, p belief.Presence) {
		if p != belief.Unknown && seq > at {
			at, now = seq, p
		}
	}
	for _, f := range c.Findings {
		tell(f.Seq, presenceOf(f.What.Finding.Verdict))
	}
	for _, r := range c.Readings {
		tell(r.Seq, r.What.Miss)
	}
	for _, s := range c.Swaps {
		if s.Watched != nil {
			tell(s.Watched.Seq, afterSwap(s.Watched.What.Outcome))
		}
	}
	if len(c.Repairs) > 0 && c.Repairs[len(c.Repairs)-1].Seq > at {
		return belief.Unknown
	}
	return now
}

func presenceOf(v finding.Verdict) belief.Presence {
	return map[finding.Verdict]belief.Presence{finding.Misfire: belief.Present, finding.NoMisfire: belief.Absent}[v]
}

func afterSwap(f belief.Follow) belief.Presence {
	if f == belief.Vanishes {
		return belief.Absent
	}
	return belief.Present
}
