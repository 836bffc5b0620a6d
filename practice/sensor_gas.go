package practice

// GasSensor is an exhaust gas analyser with its hose: readings come late and
// smoothed.
type GasSensor struct {
	Bank           int  // from 1; 0: the common tailpipe
	BeforeCatalyst bool // probe before the catalyst
}

// Delay and response of a bench with a hose: 6 s and 2.5 s (common practice,
// no source); one reading a second.
const (
	hoseSeconds  = 6
	benchSeconds = 2.5
)

type gasProbe struct {
	want  GasSensor
	next  float64
	line  []Gas
	now   Gas
	began bool
	noise dice
	out   []Gas
}

func newGasProbe(e *Engine, want GasSensor) *gasProbe {
	return &gasProbe{want: want, next: e.now, noise: newDice(e.cfg.Seed, "gas")}
}

func (g *gasProbe) tick(e *Engine) {
	if e.now < g.next {
		return
	}
	g.next++
	g.line = append(g.line, g.sniff(e))
	if len(g.line) > hoseSeconds {
		g.line = g.line[1:]
	}
	g.settle(g.line[0])
	g.out = append(g.out, g.show(e.now))
}

func (g *gasProbe) sniff(e *Engine) Gas {
	var all mole
	var conversion float64
	for b := range e.gas {
		if g.want.Bank == 0 || g.want.Bank == b+1 {
			all.plus(e.gas[b].line[e.gas[b].at])
			conversion += e.catalyst[b].conversion()
		}
	}
	if g.want.Bank == 0 {
		conversion /= float64(len(e.gas))
	}
	if g.want.BeforeCatalyst {
		conversion = 0
	}
	return all.read(conversion)
}

func (g *gasProbe) settle(in Gas) {
	if !g.began {
		g.now, g.began = in, true
		return
	}
	const a = 1 - 0.6703 // 1 − e^(−1/benchSeconds)
	g.now.CO2 += (in.CO2 - g.now.CO2) * a
	g.now.CO += (in.CO - g.now.CO) * a
	g.now.O2 += (in.O2 - g.now.O2) * a
	g.now.HCppm += (in.HCppm - g.now.HCppm) * a
}

func (g *gasProbe) show(t float64) Gas {
	n := g.noise
	return Gas{
		T: round(t, 1e-3), CO2: round(max(g.now.CO2+0.05*n.normal(), 0), 0.1), CO: round(max(g.now.CO+0.005*n.normal(), 0), 0.01),
		O2: round(max(g.now.O2+0.03*n.normal(), 0), 0.01), HCppm: round(max(g.now.HCppm+2*n.normal(), 0), 1),
	}
}

func (g *gasProbe) take() []Gas {
	out := g.out
	g.out = nil
	return out
}
