package exercise

import (
	"errors"
	"math"
	"slices"
	"strings"
	"sync"

	"halforder/engine"
)

// planner finds the cheapest way, on average over the suspects of a complaint,
// to a finished repair. It knows the suspects' weights and the coarse outcome
// of each check for each suspect, found by playing every check on an engine
// with that suspect: what a technician with perfect experience would know. It
// is solved exactly over sets of suspects.
//
// A check of one cylinder costs its price once a check has named the cylinder,
// else the price for looking through half the engine.
type planner struct {
	x        *Exercise
	suspects []suspect
	outcome  [][]string // by suspect, by offer
	names    [][]bool   // whether the outcome names one cylinder
	best     map[node]choice
}

type node struct {
	left    uint32 // suspects still possible, one bit each
	located bool
	access  access
}

// choice is the best next thing: an offer, or −1 for repairing in the order of
// stop.
type choice struct {
	cost  float64
	offer int
}

// plan is the planner of the exercise, made when first asked for.
func (x *Exercise) plan() (p *planner, err error) {
	if x.planned == nil {
		x.planned, err = newPlanner(x)
	}
	return x.planned, err
}

func newPlanner(x *Exercise) (*planner, error) {
	p := &planner{x: x, suspects: suspectsOf(x.Complaint), best: map[node]choice{}}
	n := len(p.suspects)
	runs := make([][luckyRuns][]string, n)
	errs := make([]error, n)
	var wait sync.WaitGroup
	for i := range n {
		wait.Go(func() { runs[i], errs[i] = p.play(p.suspects[i]) })
	}
	wait.Wait()
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	p.classify(runs)
	return p, nil
}

// luckyRuns is how often each check is played: outcomes that one suspect shows
// by luck either way must not tell suspects apart.
const luckyRuns = 2

// play performs every check on engines with a suspect.
func (p *planner) play(s suspect) (out [luckyRuns][]string, err error) {
	for run := range out {
		b, err := newBay(p.x.seed+uint64(run), p.x.Layout, s, p.x.at)
		if err != nil {
			return out, err
		}
		for _, o := range data().offers {
			r, err := b.perform(o, p.x.at)
			if err != nil {
				return out, err
			}
			out[run] = append(out[run], r.outcome)
		}
	}
	return out, nil
}

// classify joins the outcomes that one suspect can show into one class.
func (p *planner) classify(runs [][luckyRuns][]string) {
	n := len(p.suspects)
	p.outcome, p.names = make([][]string, n), make([][]bool, n)
	for offer := range data().offers {
		class := map[string]string{}
		find := func(o string) string {
			for class[o] != "" && class[o] != o {
				o = class[o]
			}
			return o
		}
		for i := range runs {
			class[find(runs[i][0][offer])] = find(runs[i][1][offer])
		}
		for i := range runs {
			p.outcome[i] = append(p.outcome[i], find(runs[i][0][offer]))
			p.names[i] = append(p.names[i], namesOne(runs[i][0][offer], p.x.at) && namesOne(runs[i][1][offer], p.x.at))
		}
	}
}

func namesOne(outcome string, c engine.Cylinder) bool {
	words := strings.Fields(outcome)
	for i, w := range words {
		if (w == "weak" || w == "missing" || w == "low") && i+1 < len(words) && strings.TrimRight(words[i+1], "abc") == itoa(int(c)) {
			return i+2 >= len(words) || !isNumber(words[i+2])
		}
	}
	return false
}

func isNumber(w string) bool { return w[0] >= '0' && w[0] <= '9' }

// start is where the best plan begins, on the engine as it came in.
func (p *planner) start() node {
	return node{left: 1<<len(p.suspects) - 1, access: access{buried: p.x.Buried}}
}

func (p *planner) price(offer int, at node) float64 {
	o := data().offers[offer]
	first := Bill(at.access.minutes(o.easy, o.buried), o.Money)
	if !o.PerCylinder || at.located {
		return first
	}
	others := float64(p.x.Layout.N()-1) / 2
	return first + others*Bill(p.opened(at, offer).minutes(o.easy, o.buried), o.Money)
}

// opened is the access after an offer.
func (p *planner) opened(at node, offer int) access {
	o := data().offers[offer]
	if o.Name == driven {
		return access{buried: at.access.buried}
	}
	return at.access.after(o.easy, o.buried)
}

// solve is the least expected cost from a node on.
func (p *planner) solve(at node) choice {
	if c, ok := p.best[at]; ok {
		return c
	}
	c := choice{p.stop(at), -1}
	if single := at.left&(at.left-1) == 0; !single {
		for offer := range data().offers {
			if cost, useful := p.after(at, offer); useful && cost < c.cost {
				c = choice{cost, offer}
			}
		}
	}
	p.best[at] = c
	return c
}

// after is the expected cost of doing an offer first; useless when it tells
// nothing new.
func (p *planner) after(at node, offer int) (cost float64, useful bool) {
	price := p.price(offer, at)
	if price >= p.stop(at) {
		return 0, false
	}
	parts := p.split(at, offer)
	if len(parts) == 1 && parts[0].located == at.located {
		return 0, false // to take the cover off tells nothing
	}
	total := p.weight(at.left)
	for _, next := range parts {
		price += p.weight(next.left) / total * p.solve(next).cost
	}
	return price, true
}

func (p *planner) split(at node, offer int) (parts []node) {
	var seen []string
	for i := range p.suspects {
		if at.left&(1<<i) == 0 {
			continue
		}
		k := slices.Index(seen, p.outcome[i][offer])
		if k < 0 {
			k = len(seen)
			seen = append(seen, p.outcome[i][offer])
			parts = append(parts, node{located: at.located || p.names[i][offer], access: p.opened(at, offer)})
		}
		parts[k].left |= 1 << i
	}
	return parts
}

func (p *planner) weight(left uint32) (sum float64) {
	for i, s := range p.suspects {
		if left&(1<<i) != 0 {
			sum += s.weight
		}
	}
	return sum
}

// verifyMinutes is a look whether the repair helped.
const verifyMinutes = 5

// trial is one repair and what it would mend.
type trial struct {
	weight, cost float64
	action       string
	mends        uint32
}

// trials are the repairs in the order of chance over cost, which is the best
// order for independent trials with one fault (Kadane and Simon 1977).
func (p *planner) trials(at node) (out []trial) {
	for i, s := range p.suspects {
		if at.left&(1<<i) == 0 {
			continue
		}
		r := data().repairs[s.kind]
		k := slices.IndexFunc(out, func(t trial) bool { return t.action == r.action })
		if k < 0 {
			k = len(out)
			out = append(out, trial{action: r.action, cost: Bill(at.access.minutes(r.easy, r.buried)+verifyMinutes, r.payment)})
		}
		out[k].weight += s.weight
		out[k].mends |= 1 << i
	}
	slices.SortStableFunc(out, func(a, b trial) int {
		if d := b.weight/b.cost - a.weight/a.cost; d < 0 {
			return -1
		} else if d > 0 {
			return 1
		}
		return strings.Compare(a.action, b.action)
	})
	return out
}

// stop is the expected cost of repairing in turn until it runs well.
func (p *planner) stop(at node) float64 {
	total, remaining, cost := p.weight(at.left), 1.0, 0.0
	for _, t := range p.trials(at) {
		cost += remaining * t.cost
		remaining -= t.weight / total
	}
	return cost
}

// walk follows the plan for the hidden suspect: the steps and their real cost.
func (p *planner) walk() (steps []string, cost float64) {
	at := p.start()
	hidden := slices.Index(p.suspects, p.x.hidden)
	for {
		c := p.solve(at)
		if c.offer < 0 {
			break
		}
		o := data().offers[c.offer]
		steps = append(steps, o.Name)
		cost += p.price(c.offer, at)
		for _, next := range p.split(at, c.offer) {
			if next.left&(1<<hidden) != 0 {
				at = next
				break
			}
		}
	}
	for _, t := range p.trials(at) {
		steps = append(steps, t.action)
		cost += t.cost
		if t.mends&(1<<hidden) != 0 {
			break
		}
	}
	return steps, math.Round(cost)
}
