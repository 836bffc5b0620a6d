package practice

import (
	"math"

	"halforder/engine"
)

// misfireMonitor is the computer's own misfire detector. It times the crank
// from firing to firing and calls a cylinder missing when the speed across its
// firing falls by more than a share of what losing the whole firing would cost.
// Like the real thing it can name a neighbour, and it counts falsely when the
// crank signal is disturbed.
type misfireMonitor struct {
	at     []int // crank degree at which each segment begins, by firing position
	width  []float64
	wheel  []float64 // false spacing pattern of a disturbed signal, ±1
	jitter dice
	next   int
	began  float64
	speeds [4]float64 // newest last
	filled int

	turns   float64
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

func newMonitor(c Config) misfireMonitor {
	n := c.Layout.N()
	m := misfireMonitor{
		jitter: newDice(c.Seed, "monitor"), at: make([]int, n), width: make([]float64, n), wheel: make([]float64, n),
		block2: make([]int, n), block10: make([]int, n), last2: make([]int, n), last10: make([]int, n), total: make([]int, n),
	}
	for k := range n {
		m.at[k] = int(c.Layout.Angle(c.Layout.At(k)))
		m.width[k] = float64(c.Layout.Interval(k))
		m.wheel[k] = clamp(m.jitter.normal(), -2, 2)
	}
	return m
}

func (m *misfireMonitor) forget() {
	for _, counts := range [][]int{m.block2, m.block10, m.last2, m.last10, m.total} {
		clear(counts)
	}
	m.turns, m.turns2, m.turns10, m.passes, m.hurting, m.filled = 0, 0, 0, 0, 0, 0
}

// turn is called each degree; it closes a segment when the next firing comes.
func (m *misfireMonitor) turn(e *Engine) {
	if e.angle != m.at[m.next] {
		return
	}
	k := (m.next + e.n - 1) % e.n // the segment that ends here
	m.next = (m.next + 1) % e.n
	span := e.now - m.began
	m.began = e.now
	if span <= 0 || m.width[k] < 1 {
		return
	}
	false1 := e.plant.wheelDeg * m.wheel[k] / m.width[k]
	copy(m.speeds[:], m.speeds[1:])
	m.speeds[3] = m.width[k] * degree / span * (1 + false1 + 2e-4*m.jitter.normal())
	if m.filled < len(m.speeds) {
		m.filled++
		return
	}
	m.judge(e, (k+e.n-1)%e.n)
	m.advance(e, m.width[k]/360)
}

// judge looks at the segments before and after that of firing position k.
func (m *misfireMonitor) judge(e *Engine, k int) {
	if e.computer.running < 3 || e.computer.overrun || e.driver.moving > 0 {
		return
	}
	mean := 4 * math.Pi / float64(e.n)
	whole := (e.drag + e.brakes()) * mean / (e.inertia[0] * m.speeds[2])
	drop := m.speeds[1] - m.speeds[3]
	if drop > 0.62*whole+0.002*m.speeds[2] {
		m.count(e.cfg.Layout.At(k))
	}
}

func (m *misfireMonitor) count(c engine.Cylinder) {
	m.block2[c-1]++
	m.block10[c-1]++
	m.total[c-1]++
}

func (m *misfireMonitor) advance(e *Engine, turns float64) {
	m.turns += turns
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
