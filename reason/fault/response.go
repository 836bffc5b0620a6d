package fault

import "slices"

// Subjects of a response row that are no causes.
const (
	soundEngine = "sound"
	weakState   = "state:weak"
	deadState   = "state:dead"
	several     = "several" // a cause that touches more than one cylinder
	shutOff     = "shutoff" // the computer has shut off the injector
	homePrefix  = "home:"   // any cause that lives there
)

type responseKey struct {
	check    string
	subject  string
	severity Severity // empty: any
	when     int      // a When, or anyTime
}

const anyTime = -1

// Sound gives the chances of the outcomes of a check on a sound engine, in the
// order of Check.Outcomes.
func (c *Catalogue) Sound(check string) []float64 {
	return deref(c.responses[responseKey{check, soundEngine, "", anyTime}])
}

// OfState gives the chances of the outcomes when the cylinder looked at is weak
// or dead, nil where the check does not look at that.
func (c *Catalogue) OfState(check string, state int) []float64 {
	switch state {
	case Weak:
		return deref(c.responses[responseKey{check, weakState, "", anyTime}])
	case Dead:
		return deref(c.responses[responseKey{check, deadState, "", anyTime}])
	}
	return nil
}

// OfCause gives the chances of the outcomes of a check that looks at the site
// of a cause, nil where neither the cause nor its home has an answer of its
// own. wide says that it touches more than one cylinder. The row for the
// severity goes before the row for all, the row for the moment (showing or
// resting) before the row for any time, and the row of the cause before that of
// its home. The pointer is the same for the same row; what it points to must not
// be changed.
func (c *Catalogue) OfCause(check string, x *Cause, s Severity, w When, wide bool) *[]float64 {
	if t := c.answers[check]; t != nil {
		return t[cell(x.at, severityIndex(s), int(w), wide)]
	}
	return nil
}

// cell is the place in an answer table of a cause in a severity at a moment.
func cell(cause, severity, when int, wide bool) int {
	i := (cause*len(allSeverities)+severity)*2 + when
	if wide {
		return 2*i + 1
	}
	return 2 * i
}

// compile fills the answer tables from the rows, so that OfCause need not search.
func (c *Catalogue) compile() {
	c.answers = map[string][]*[]float64{}
	for i, x := range c.causes {
		x.at = i
	}
	for _, k := range c.checks {
		t := make([]*[]float64, cell(len(c.causes), 0, 0, false))
		for _, x := range c.causes {
			c.compileCause(t, k.Code, x)
		}
		c.answers[k.Code] = t
	}
}

func (c *Catalogue) compileCause(t []*[]float64, check string, x *Cause) {
	subjects := []string{x.Code, homePrefix + string(x.Lives), several}
	subjects = slices.DeleteFunc(subjects, func(s string) bool { return !c.spoken[[2]string{check, s}] })
	if len(subjects) == 0 {
		return
	}
	for i, s := range allSeverities {
		for when := range 2 {
			for _, wide := range []bool{false, true} {
				t[cell(x.at, i, when, wide)] = c.lookUp(check, subjects, x, s, when, wide)
			}
		}
	}
}

func deref(p *[]float64) []float64 {
	if p == nil {
		return nil
	}
	return *p
}

// lookUp finds the row of the first subject that has one.
func (c *Catalogue) lookUp(check string, subjects []string, x *Cause, s Severity, when int, wide bool) *[]float64 {
	for _, subject := range subjects {
		if subject == several && (!wide || x.Lives == AtEngine) {
			continue
		}
		for _, key := range [4]responseKey{
			{check, subject, s, when}, {check, subject, s, anyTime},
			{check, subject, "", when}, {check, subject, "", anyTime},
		} {
			if p, ok := c.responses[key]; ok {
				return p
			}
		}
	}
	return nil
}

// OfShutOff gives the chances of the outcomes when the computer has shut off
// the injector of the cylinder, nil where the check cannot see that.
func (c *Catalogue) OfShutOff(check string) []float64 {
	return deref(c.responses[responseKey{check, shutOff, "", anyTime}])
}
