package practice

import (
	"fmt"
	"slices"
	"strconv"

	"halforder/engine"
)

// Code is one stored trouble code, numbered as in the open standard for
// trouble codes.
type Code struct {
	Code      string // "P0301"
	Pending   bool
	Confirmed bool
	Permanent bool
	Frame     FreezeFrame

	seenNow bool // in this driving cycle
	good    int  // driving cycles in a row without it
	warmups int
}

// FreezeFrame is what the engine did when a code was first set.
type FreezeFrame struct {
	T                         float64 // engine seconds
	RPM                       engine.RPM
	LoadPercent               float64
	CoolantC                  float64
	ShortPercent, LongPercent []float64 // per cent, by bank
	ManifoldKPa               float64
	SpeedKmh                  float64
	ClosedLoop                bool
}

// Lamp is the state of the malfunction lamp.
type Lamp string

// The states of the lamp. It flashes once a second while misfires come at a
// rate that hurts the catalyst.
const (
	LampOff      Lamp = "off"
	LampSteady   Lamp = "steady"
	LampFlashing Lamp = "flashing"
)

type codeStore struct {
	codes []*Code
	warm  bool // this driving cycle warmed the engine up
	seen  map[string]bool
}

func newCodeStore() codeStore { return codeStore{seen: map[string]bool{}} }

func itoa(n int) string { return strconv.Itoa(n) }

// see registers a fault in this driving cycle: pending at first, confirmed and
// permanent, with the lamp on, when an earlier driving cycle had it too.
func (s *codeStore) see(e *Engine, name string) *Code {
	c := s.find(name)
	if c == nil {
		c = &Code{Code: name, Pending: true, Frame: e.freeze()}
		s.codes = append(s.codes, c)
		e.truth.event(e, "pending code "+name)
	}
	if !c.seenNow && c.Pending && c.good == 0 && c.warmups > 0 || c.Permanent {
		s.confirm(e, c)
	}
	c.seenNow, c.Pending, c.good = true, true, 0
	return c
}

func (s *codeStore) confirm(e *Engine, c *Code) {
	if !c.Confirmed {
		e.truth.event(e, "confirmed code "+c.Code)
	}
	c.Confirmed, c.Permanent = true, true
}

func (s *codeStore) find(name string) *Code {
	if i := slices.IndexFunc(s.codes, func(c *Code) bool { return c.Code == name }); i >= 0 {
		return s.codes[i]
	}
	return nil
}

// The families of codes that are numbered by cylinder (open standard for
// trouble codes; numbers go on decimally, P0312 is the last misfire code).
const (
	injectorFamily = 200
	misfireFamily  = 300
	coilFamily     = 350
	lastNumbered   = 12
)

// seeCylinder registers a code of one cylinder, if the standard has one.
func (s *codeStore) seeCylinder(e *Engine, family int, cylinder engine.Cylinder) {
	if cylinder <= lastNumbered {
		s.see(e, fmt.Sprintf("P0%03d", family+int(cylinder)))
	}
}

// misfire names the cylinder that has more than nine tenths of the misfires;
// two or more with a tenth each make the code for several cylinders.
// Published: 13 CCR 1968.2 (e)(3.1.3), 2007 text.
func (s *codeStore) misfire(e *Engine, counts []int) {
	all, several := sum(counts), 0
	for i, n := range counts {
		share := float64(n) / float64(max(all, 1))
		if share > 0.1 {
			several++
			s.seeCylinder(e, misfireFamily, engine.Cylinder(i+1))
		}
	}
	if several >= 2 {
		s.see(e, "P0300")
	}
}

func (s *codeStore) confirmMisfire(e *Engine) {
	for _, c := range s.codes {
		if c.seenNow && c.Code >= "P0300" && c.Code <= "P0312" {
			s.confirm(e, c)
		}
	}
}

func mixtureCode(bank int, lean bool) string {
	switch {
	case bank == 0 && lean:
		return "P0171"
	case bank == 0:
		return "P0172"
	case lean:
		return "P0174"
	}
	return "P0175"
}

// endDrive closes a driving cycle when the key goes off: codes not seen lose
// pending; three good cycles put the lamp out and clear permanent codes; forty
// warm-ups erase.
func (s *codeStore) endDrive() {
	var keep []*Code
	for _, c := range s.codes {
		if c.seenNow {
			c.good = 0
			c.warmups = 1
		} else {
			c.Pending = false
			if c.good++; c.good >= 3 {
				c.Permanent = false
			}
			if s.warm {
				c.warmups++
			}
		}
		c.seenNow = false
		if c.Pending || c.Permanent || c.Confirmed && c.warmups < 40 {
			keep = append(keep, c)
		}
	}
	s.codes, s.warm = keep, false
}

// clear does what a clear request does: everything goes but permanent codes,
// which only the computer's own good judgement removes.
func (s *codeStore) clear() {
	var keep []*Code
	for _, c := range s.codes {
		if c.Permanent {
			keep = append(keep, &Code{Code: c.Code, Permanent: true})
		}
	}
	s.codes = keep
}

func (s *codeStore) lampOn() bool {
	return slices.ContainsFunc(s.codes, func(c *Code) bool { return c.Confirmed && c.good < 3 })
}

// freeze takes a freeze frame.
func (e *Engine) freeze() FreezeFrame {
	f := FreezeFrame{
		T: e.now, RPM: e.rpm(), LoadPercent: e.loadPercent(), CoolantC: e.heat.coolantC,
		ManifoldKPa: e.manifold.pressure / 1000, SpeedKmh: e.driver.kmh(), ClosedLoop: e.computer.closedLoop,
	}
	for _, t := range e.computer.trims {
		f.ShortPercent = append(f.ShortPercent, 100*t.short)
		f.LongPercent = append(f.LongPercent, 100*t.long)
	}
	return f
}

// loadPercent is the filling relative to full throttle at standard air.
func (e *Engine) loadPercent() float64 {
	c := e.cylinders[0]
	full := seaPa * e.swept / (gasR * 298)
	return clamp(100*e.computer.modelAir(e, c)*e.computer.airScale/full, 0, 110)
}
