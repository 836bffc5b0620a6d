package practice

import (
	"math"
	"slices"

	"halforder/engine"
)

// misfireMonitor is the computer's own misfire detector. It measures the crank
// speed in a window around each firing top dead centre and calls a cylinder
// missing when the speed falls across its firing by more than a share of what
// losing the whole firing would cost. Like the real thing it can name a
// neighbour, and it counts falsely when the crank signal is disturbed.
type misfireMonitor struct {
	marks  []windowMark
	next   int
	began  []float64 // window start times by firing position
	window float64   // degrees
	reach  int       // firings across which the fall is taken
	wheel  []float64 // false spacing pattern of a disturbed signal
	jitter dice
	speeds []float64 // at the last firings, newest last
	falls  [3]float64
	filled int
	learnt []float64 // fall of the healthy engine by firing position, in whole firings
	sums   []float64 // of falls by firing position, for learning
	seen   []float64

	block2  []int // misfires by cylinder − 1 in the running block of 200 turns
	block10 []int // and of 1000 turns
	turns2  float64
	turns10 float64
	last2   []int // the last full block
	last10  []int
	total   []int
	passes  int     // catalyst-rate exceedances this driving cycle
	hurting float64 // engine seconds until which the lamp flashes
}

// windowMark is a crank degree at which a window begins or ends.
type windowMark struct {
	at, position int
	end          bool
}

func newMonitor(c Config) misfireMonitor {
	n := c.Layout.N()
	m := misfireMonitor{
		jitter: newDice(c.Seed, "monitor"), began: make([]float64, n), wheel: make([]float64, n), learnt: make([]float64, n),
		sums: make([]float64, n), seen: make([]float64, n),
		block2: make([]int, n), block10: make([]int, n), last2: make([]int, n), last10: make([]int, n), total: make([]int, n),
		window: 60, reach: 1,
	}
	if n > 6 { // a firing lasts longer than the way to the next
		m.reach = 2
	}
	for k := range n {
		m.window = min(m.window, max(float64(c.Layout.Interval(k)), 20))
		m.wheel[k] = clamp(m.jitter.normal(), -2, 2)
	}
	m.speeds = make([]float64, m.reach+1)
	m.setMarks(c)
	return m
}

func (m *misfireMonitor) setMarks(c Config) {
	half := int(m.window / 2)
	m.window = float64(2 * half)
	for k := range c.Layout.N() {
		at := int(c.Layout.Angle(c.Layout.At(k)))
		for _, w := range []windowMark{{at - half, k, false}, {at + half, k, true}} {
			w.at = (w.at + cycle) % cycle
			m.marks = append(m.marks, w)
		}
	}
	slices.SortStableFunc(m.marks, func(a, b windowMark) int { return a.at - b.at })
}

func (m *misfireMonitor) forget() {
	for _, counts := range [][]int{m.block2, m.block10, m.last2, m.last10, m.total} {
		clear(counts)
	}
	m.turns2, m.turns10, m.passes, m.hurting, m.filled = 0, 0, 0, 0, 0
}

// turn is called each degree.
func (m *misfireMonitor) turn(e *Engine) {
	for e.angle == m.marks[m.next].at {
		w := m.marks[m.next]
		if m.next++; m.next == len(m.marks) {
			m.next = 0
		}
		if w.end {
			m.firing(e, w.position)
		} else {
			m.began[w.position] = e.now
		}
		if m.next == 0 {
			return
		}
	}
}

// firing takes the speed at a firing and judges the one before last.
func (m *misfireMonitor) firing(e *Engine, k int) {
	span := e.now - m.began[k]
	if span <= 0 {
		return
	}
	wrong := e.plant.wheelDeg*m.wheel[k]/m.window + 2e-4*m.jitter.normal()
	copy(m.speeds, m.speeds[1:])
	m.speeds[m.reach] = m.window * degree / span * (1 + wrong)
	fired := (k + 2*e.n - m.reach) % e.n // the firing at the beginning of the span
	copy(m.falls[:], m.falls[1:])
	m.falls[2] = (m.speeds[0]-m.speeds[m.reach])/m.whole(e) - m.learnt[fired]
	m.sums[fired] += m.falls[2]
	m.seen[fired]++
	if m.filled++; m.filled > m.reach+4 {
		m.judge(e, (fired+e.n-1)%e.n)
	}
	m.advance(e, 2/float64(e.n))
}

// whole is the fall of speed that a firing lost altogether would cost.
func (m *misfireMonitor) whole(e *Engine) float64 {
	mean := 4 * math.Pi / float64(e.n)
	return max((e.drag+e.pull())*mean/(e.inertia[0]*max(m.speeds[m.reach], 1)), 1e-3)
}

// judge counts firing k when the fall across it is most of a whole firing and
// not plainly the echo of a neighbour.
func (m *misfireMonitor) judge(e *Engine, k int) {
	if e.computer.running < 3 || e.computer.overrun || e.driver.moving > 0 {
		return
	}
	before, fall, after := m.falls[0], m.falls[1], m.falls[2]
	if fall > 0.62 && fall > 0.85*max(before, after) {
		m.count(e.cfg.Layout.At(k))
	}
}

func (m *misfireMonitor) count(c engine.Cylinder) {
	m.block2[c-1]++
	m.block10[c-1]++
	m.total[c-1]++
}

func (m *misfireMonitor) advance(e *Engine, turns float64) {
	if m.turns2 += turns; m.turns2 >= 200 {
		m.turns2 = 0
		copy(m.last2, m.block2)
		clear(m.block2)
		m.catalystBlock(e)
	}
	if m.turns10 += turns; m.turns10 >= 1000 {
		m.turns10 = 0
		copy(m.last10, m.block10)
		clear(m.block10)
		if MisfirePercent(sum(m.last10), 1000, e.n) > 2 { // makers' texts: 1 to 3.25 %
			e.computer.codes.misfire(e, m.last10)
		}
	}
}

// MisfirePercent is 100·misfires/(turns·cylinders/2).
func MisfirePercent(misfires int, turns float64, cylinders int) float64 {
	return 100 * float64(misfires) / (turns * float64(cylinders) / 2)
}

// catalystBlock judges 200 turns by a rate that falls with speed and load:
// 20 % at idle to 5 % (makers' texts: 2.5 to 22 %).
func (m *misfireMonitor) catalystBlock(e *Engine) {
	load := ramp(e.manifold.pressure/e.ambient, 0.3, 0.9)
	speed := ramp(float64(e.rpm()), 800, 4000)
	limit := 20 - 15*max(load, speed)
	if MisfirePercent(sum(m.last2), 200, e.n) < limit {
		return
	}
	m.passes++
	m.hurting = e.now + 24000/max(float64(e.rpm()), 300) // until the end of the next block
	e.computer.codes.misfire(e, m.last2)
	if m.passes >= 3 {
		e.computer.codes.confirmMisfire(e)
	}
	if e.cfg.Computer.InjectorCut {
		e.computer.cutWorst(e)
	}
}

// cutWorst switches off the injector of the cylinder that misses most.
func (k *computer) cutWorst(e *Engine) {
	worst := 0
	for i, n := range k.monitor.last2 {
		if n > k.monitor.last2[worst] {
			worst = i
		}
	}
	if !k.cut[worst] && float64(k.monitor.last2[worst]) > 0.5*200/2 {
		k.cut[worst] = true
		e.truth.event(e, "computer cuts injector "+itoa(worst+1))
	}
}

func sum(counts []int) (total int) {
	for _, n := range counts {
		total += n
	}
	return total
}

// learn takes over the natural pattern of an unevenly firing engine from a
// healthy twin, as a real computer learnt it when the car was new.
func (e *Engine) learn() error {
	healthy := e.cfg
	healthy.Faults, healthy.Running, healthy.CoolantC, healthy.Computer = nil, true, 88, Computer{}
	twin, err := build(healthy, Sensors{})
	if err != nil {
		return err
	}
	m := &twin.computer.monitor
	clear(m.sums)
	clear(m.seen)
	twin.RunUntil(4)
	for k := range m.sums {
		e.computer.monitor.learnt[k] = m.sums[k] / max(m.seen[k], 1)
	}
	return nil
}
