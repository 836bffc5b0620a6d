package job

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halforder/engine"
)

// codeForm is the form of a trouble code in ISO 15031-6: a letter for the
// system and four hexadecimal digits, the first 0 to 3.
var codeForm = regexp.MustCompile(`^[PBCU][0-3][0-9A-F]{3}$`)

// missCode is a misfire counted at cylinder 1 to 12: P0301 to P0312 in ISO
// 15031-6 and SAE J2012, the cylinder as the car's maker numbers it.
var missCode = regexp.MustCompile(`^P03(0[1-9]|1[0-2])$`)

// The catalogue's check that trouble codes answer, and its outcomes.
const (
	codesCheck    = "codes"
	namedByCode   = "named"
	unnamedByCode = "none"
)

// ReadCodes reads trouble codes as a person types them, such as "p0303". The
// error says which is none, or which names a cylinder that the engine does not
// have.
func (c *Card) ReadCodes(fields []string) ([]string, error) {
	var out []string
	for _, field := range fields {
		code := strings.ToUpper(strings.TrimSpace(field))
		if !codeForm.MatchString(code) {
			return nil, fmt.Errorf("%q is not a trouble code: a letter P, B, C or U and four digits, such as P0303", field)
		}
		if cylinder, ok := missAt(code); ok && c.Layout().Check(cylinder) != nil {
			return nil, fmt.Errorf("%s is a misfire at cylinder %d and this engine has %d: read the code again, or open the job with the right engine", code, cylinder, c.Layout().N())
		}
		out = append(out, code)
	}
	if len(out) == 0 {
		return nil, errors.New("type the codes as the car gave them, such as P0303")
	}
	return out, nil
}

// missAt is the cylinder at which a code says that misfires were counted.
func missAt(code string) (engine.Cylinder, bool) {
	if !missCode.MatchString(code) {
		return 0, false
	}
	n, err := strconv.Atoi(code[3:])
	return engine.Cylinder(n), err == nil
}

// codeRuns are the codes typed since the opening or a clearing: each run is one
// reading, however many entries it took, of the parts that sat there at its start.
type codeRuns struct {
	since int64 // event at which the run began
	read  []Stamped[Coded]
}

// add joins codes to the run. Codes first typed after parts were moved are of
// before or after that, nobody knows, and say nothing.
func (r *codeRuns) add(s Stamped[Coded], changed int64) {
	if last := len(r.read) - 1; last >= 0 && r.read[last].Seq > r.since {
		r.read[last].What.Codes = append(slices.Clip(r.read[last].What.Codes), s.What.Codes...)
		return
	}
	if changed <= r.since {
		r.read = append(r.read, s)
	}
}

// AllReadings are the readings typed as such and those that trouble codes give.
func (c *Card) AllReadings() []Stamped[Entered] {
	out := slices.Clone(c.Readings)
	for _, run := range c.codeRuns.read {
		if results := c.namedIn(run.What.Codes); results != nil {
			out = append(out, Stamped[Entered]{run.Event, Entered{Check: codesCheck, Results: results, Words: strings.Join(run.What.Codes, " ")}, run.Seating, run.Mended})
		}
	}
	return out
}

// namedIn says of every cylinder whether the codes name it; nil where they name
// none, for then others may have been left out.
func (c *Card) namedIn(codes []string) []Result {
	var named []engine.Cylinder
	for _, code := range codes {
		if cylinder, ok := missAt(code); ok {
			named = append(named, cylinder)
		}
	}
	if len(named) == 0 {
		return nil
	}
	var out []Result
	for _, cylinder := range c.Layout().Cylinders() {
		r := Result{Cylinder: cylinder, Outcome: unnamedByCode}
		if slices.Contains(named, cylinder) {
			r.Outcome = namedByCode
		}
		out = append(out, r)
	}
	return out
}

func (b *Coded) apply(c *Card, e Event) error {
	c.Codes = append(c.Codes, b.Codes...)
	c.codeRuns.add(stamp(c, e, b), c.lastChange())
	return nil
}

func (b *CodesCleared) apply(c *Card, e Event) error {
	c.Codes = nil
	c.codeRuns.since = e.Seq
	return nil
}
