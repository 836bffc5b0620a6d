package fault

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
	subjects := []string{x.Code, homePrefix + string(x.Lives)}
	if wide && x.Lives != AtEngine {
		subjects = append(subjects, several)
	}
	for _, subject := range subjects {
		if p := c.lookUp(check, subject, s, w); p != nil {
			return p
		}
	}
	return nil
}

func deref(p *[]float64) []float64 {
	if p == nil {
		return nil
	}
	return *p
}

func (c *Catalogue) lookUp(check, subject string, s Severity, w When) *[]float64 {
	if !c.spoken[[2]string{check, subject}] {
		return nil
	}
	for _, key := range [4]responseKey{
		{check, subject, s, int(w)}, {check, subject, s, anyTime},
		{check, subject, "", int(w)}, {check, subject, "", anyTime},
	} {
		if p, ok := c.responses[key]; ok {
			return p
		}
	}
	return nil
}

// OfShutOff gives the chances of the outcomes when the computer has shut off
// the injector of the cylinder, nil where the check cannot see that.
func (c *Catalogue) OfShutOff(check string) []float64 {
	return deref(c.responses[responseKey{check, shutOff, "", anyTime}])
}
