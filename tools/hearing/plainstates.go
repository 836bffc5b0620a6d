package main

import (
	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/signal"
)

// plainStates are what is wrong with a plain engine: how likely a firing misses,
// of how many cylinders.
var plainStates = []struct {
	name   string
	of     int // cylinders; 0: all
	least  float64
	most   float64
	bursts bool // of up to some seconds
}{
	{"healthy", 1, 0, 0, false},
	{"one dead", 1, 1, 1, false},
	{"one misses now and then", 1, 0.1, 0.9, false},
	{"two miss now and then", 2, 0.1, 0.8, false},
	{"any firing misses now and then", 0, 0.03, 0.4, false},
	{"one misses in bursts", 1, 0.7, 1, true},
}

const longestBurst, longestPause = 4.0, 6.0 // s

// sweepPlain judges plain engines without any cut or mark, and counts the cycles
// in which a firing is missing.
func sweepPlain(seeds seedSpan, layouts string, verdicts, share, covered *table) error {
	return eachEngine(seeds, layouts, func(layout engine.Layout, seed int) {
		for i, state := range plainStates {
			if state.of > layout.N()/2 {
				continue
			}
			p, _ := drawPlain(layout, seed, i)
			f, err := order.Analyse(signal.FromMemory(p.sound()), p.rate, order.Config{Layout: layout})
			want := finding.Misfire
			if len(p.missed) == 0 {
				want = finding.NoMisfire
			}
			row := "plain sound, " + state.name
			verdicts.at(row).judge(f, err, want)
			if len(p.missed) > 0 {
				countShare(f, err, min(float64(len(p.missed))/p.cycles(), 1), share.at(row), covered.at(row))
			}
		}
	})
}

// drawPlain is a plain engine in a state, and the firing positions that miss.
func drawPlain(layout engine.Layout, seed, state int) (*plain, []int) {
	p, s := newPlain(layout, uint64(1000*(state+1)+seed)), plainStates[state]
	p.seconds, p.missed, p.miss = missSeconds, map[int]bool{}, make([]float64, layout.N())
	p.clicks = make([]way, layout.N())
	loud, late := 0.3*p.rng.Float64(), p.rng.Float64() // the cams are all cut alike
	for k := range p.clicks {
		p.clicks[k] = way{loud * (1 + 0.15*p.rng.NormFloat64()), late + 0.005*p.rng.NormFloat64()}
	}
	who := p.rng.Perm(layout.N())
	if s.of > 0 {
		who = who[:s.of]
	}
	for _, k := range who {
		p.miss[k] = s.least + (s.most-s.least)*p.rng.Float64()
	}
	for t := 0.0; s.bursts && t < p.seconds; {
		from := t + longestPause*p.rng.Float64()
		t = from + longestBurst*p.rng.Float64()
		p.bursts = append(p.bursts, burst{from, t})
	}
	return p, who
}

// cycles is how many whole ones the engine has turned.
func (p *plain) cycles() float64 {
	const step = 0.001
	n := 0.0
	for t := 0.0; t < p.seconds; t += step {
		n += p.speed(t) / 120 * step
	}
	return n
}

// heldWander is how much less the speed wanders where a foot holds it.
const heldWander = 0.2

// sweepPlainSpeeds asks plain engines for their speed, one second each.
func sweepPlainSpeeds(seeds seedSpan, layouts string, t *table) error {
	return eachEngine(seeds, layouts, func(layout engine.Layout, seed int) {
		for i, rpm := range speedsHeld {
			for dead := range min(3, layout.N()/2+1) {
				p := newPlain(layout, uint64(100*(10*i+dead)+seed))
				p.seconds = 1
				if rpm > 0 {
					p.idle = float64(rpm) * (0.9 + 0.2*p.rng.Float64())
					for k := range p.wander {
						p.wander[k].size *= heldWander
					}
				}
				for _, k := range p.rng.Perm(layout.N())[:dead] {
					p.work[k] = 0
				}
				f, err := order.Analyse(signal.FromMemory(p.sound()), p.rate, order.Config{Layout: layout})
				t.at("plain sound, "+speedRow(rpm, dead)).speed(f, err, 120*p.cycles()/p.seconds)
			}
		}
	})
}
