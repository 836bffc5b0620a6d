package job

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/reason/fault"
)

// codeForm is the form of a trouble code in ISO 15031-6: a letter for the
// system and four hexadecimal digits, the first 0 to 3.
var codeForm = regexp.MustCompile(`^[PBCU][0-3][0-9A-F]{3}$`)

// The catalogue's checks that trouble codes answer.
const (
	codesCheck   = "codes"
	severalCheck = "several-code"
	mixtureCheck = "mixture-code"
)

// severalCode is a misfire at several cylinders or at random.
const severalCode = "P0300"

// mixtureCodes say that the mixture of a bank is out of what trims can mend.
var mixtureCodes = map[string]string{"P0171": "lean", "P0174": "lean", "P0172": "rich", "P0175": "rich"}

// countersCheck reads how often each cylinder was seen to miss.
const countersCheck = "counters"

// cutCheck unplugs what the computer watches, and stores codes.
const cutCheck = "cut"

// trimsCheck sees the same as the codes of the mixture, and more.
const trimsCheck = "trims"

// codeOutcomes are those of codesCheck, the one that says most last.
var codeOutcomes = []string{"none", "named", "injector", "coil"}

// codeRange is codes that say the same of one cylinder after the other: of
// cylinder n, P and the number first + step·(n-1).
type codeRange struct {
	outcome     string
	first, step int
}

// codeRanges after ISO 15031-6 and SAE J2012; cylinders as the car's maker
// numbers them. Low and high (the second and third range of each kind) from
// memory.
var codeRanges = []codeRange{
	{"named", 301, 1},
	{"injector", 201, 1}, {"injector", 261, 3}, {"injector", 262, 3},
	{"coil", 351, 1}, {"coil", 2300, 3}, {"coil", 2301, 3},
}

// mostCylinders is how many cylinders codes know.
const mostCylinders = 12

// NoCodes is typed where the car was asked and stores none.
const NoCodes = "none"

// ReadCodes reads trouble codes as a person types them, such as "p0303"; no
// fields are nil, and NoCodes alone is empty. The error says which is none, or which
// names a cylinder that the engine does not have.
func ReadCodes(l engine.Layout, fields []string) ([]string, error) {
	if len(fields) == 1 && strings.EqualFold(strings.TrimSpace(fields[0]), NoCodes) {
		return []string{}, nil
	}
	var out []string
	for _, field := range fields {
		code := strings.ToUpper(strings.TrimSpace(field))
		if !codeForm.MatchString(code) {
			return nil, fmt.Errorf("%q is not a trouble code: a letter P, B, C or U, a digit 0 to 3 and three more (0 to 9, A to F), such as P0303, or %s alone", field, NoCodes)
		}
		if outcome, cylinder := meaning(code); outcome != "" && outcome != "coil" && l.Check(cylinder) != nil {
			return nil, fmt.Errorf("%s is about cylinder %d and this engine has %d: read the code again, or open the job with the right engine", code, cylinder, l.N())
		}
		out = append(out, code)
	}
	return out, nil
}

// meaning is what a code says of which cylinder; of coils the letter, A as 1.
// Empty: nothing of a single one.
func meaning(code string) (outcome string, cylinder engine.Cylinder) {
	digits, powertrain := strings.CutPrefix(code, "P")
	number, err := strconv.Atoi(digits)
	if err != nil || !powertrain {
		return "", 0
	}
	for _, r := range codeRanges {
		n := (number-r.first)/r.step + 1
		if number >= r.first && n <= mostCylinders && r.first+r.step*(n-1) == number {
			return r.outcome, engine.Cylinder(n)
		}
	}
	return "", 0
}

// codeRuns are the codes typed since the opening or a clearing: each run is one
// reading, however many entries it took, of the parts that sat there at its start.
type codeRuns struct {
	since   int64         // event at which the run began
	seating fault.Seating // of the parts then
	read    []codeRun
}

type codeRun struct {
	Stamped[Coded]
	handled
	afterClearing bool
}

// add joins codes to the run. What is read after more was handled adds nothing to
// what was read before.
func (r *codeRuns) add(s Stamped[Coded], h handled) {
	last := len(r.read) - 1
	switch {
	case last < 0 || r.read[last].Seq <= r.since:
		r.read = append(r.read, codeRun{s, h, r.since > 0})
	case h.count() == r.read[last].count():
		r.read[last].What.Codes = append(slices.Clip(r.read[last].What.Codes), s.What.Codes...)
	}
}

// now reports whether codes were read since the opening or the last clearing.
func (r *codeRuns) now() bool { return len(r.read) > 0 && r.read[len(r.read)-1].Seq > r.since }

// AllReadings are the readings typed as such and those that trouble codes give.
func (c *Card) AllReadings() []Stamped[Entered] {
	out := slices.Clone(c.Readings)
	for _, run := range c.codeRuns.read {
		read := func(check string, results []Result) {
			out = append(out, Stamped[Entered]{run.Event, Entered{Check: check, Results: results, Words: strings.Join(run.What.Codes, " ")}, run.Seating, run.Mended})
		}
		if results := run.certain(c.saidBy(run)); len(results) > 0 {
			read(codesCheck, results)
		}
		if len(run.cut) > 0 {
			continue // it may have upset the whole engine
		}
		if len(run.What.Codes) == 0 && !run.afterClearing {
			read(severalCheck, []Result{{Outcome: "none"}})
			if !c.has(trimsCheck) {
				read(mixtureCheck, []Result{{Outcome: "none"}})
			}
		}
		if slices.Contains(run.What.Codes, severalCode) {
			read(severalCheck, []Result{{Outcome: "stored"}})
		}
		if stored := mixtureIn(run.What.Codes); stored != "" && !c.has(trimsCheck) {
			read(mixtureCheck, []Result{{Outcome: stored}})
		}
	}
	return out
}

// codesForbid are the checks that codes typed have answered, or that codes cannot
// answer any more.
func (c *Card) codesForbid() []string {
	answered := []string{severalCheck, mixtureCheck} // by reading the others
	h, known := c.handledSinceClearing()
	if c.codeRuns.now() || !known || h.allCut(c.Layout()) {
		return append(answered, codesCheck)
	}
	return answered
}

// has reports whether a check was done by hand.
func (c *Card) has(check string) bool {
	return slices.ContainsFunc(c.Readings, func(r Stamped[Entered]) bool { return r.What.Check == check })
}

// mixtureIn is what the codes of the mixture say, empty where there are none or
// they contradict each other.
func mixtureIn(codes []string) (stored string) {
	for _, code := range codes {
		switch says := mixtureCodes[code]; {
		case says == "" || says == stored:
		case stored != "":
			return ""
		default:
			stored = says
		}
	}
	return stored
}

// namedIn says of every cylinder what the codes say of it; where no misfire is among
// them, for then others may have been left out, only of those whose coil is named. Makers
// letter coils by cylinder or by firing order, so the code of a coil counts only where the
// cylinder of its number is named too, by a code or by the misfire counters (common
// practice, no source).
func (c *Card) namedIn(codes []string) []Result {
	loudest := make([]int, engine.MaxCylinders+1)
	coils := map[engine.Cylinder]bool{}
	for _, code := range codes {
		switch outcome, cylinder := meaning(code); outcome {
		case "":
		case "coil":
			coils[cylinder] = true
		default:
			loudest[cylinder] = max(loudest[cylinder], slices.Index(codeOutcomes, outcome))
		}
	}
	whole := slices.Max(loudest) > 0 || slices.Contains(codes, severalCode)
	var out []Result
	for _, cylinder := range c.Layout().Cylinders() {
		if coils[cylinder] && (loudest[cylinder] > 0 || c.counted(cylinder)) {
			loudest[cylinder] = slices.Index(codeOutcomes, "coil")
		}
		if whole || loudest[cylinder] > 0 {
			out = append(out, Result{Cylinder: cylinder, Outcome: codeOutcomes[loudest[cylinder]]})
		}
	}
	return out
}

// saidBy is what a run of codes says of the cylinders. None at all clears each of
// them, but soon after a clearing it says nothing.
func (c *Card) saidBy(run codeRun) []Result {
	if len(run.What.Codes) > 0 {
		return c.namedIn(run.What.Codes)
	}
	if run.afterClearing {
		return nil
	}
	var out []Result
	for _, cylinder := range c.Layout().Cylinders() {
		out = append(out, Result{Cylinder: cylinder, Outcome: codeOutcomes[0]})
	}
	return out
}

// counted reports whether the misfire counters named a cylinder and not all others.
func (c *Card) counted(cylinder engine.Cylinder) bool {
	here, others := false, 0
	for _, r := range c.Readings {
		if r.What.Check != countersCheck {
			continue
		}
		for _, x := range r.What.Results {
			switch {
			case x.Outcome == "zero":
			case x.Cylinder == cylinder:
				here = true
			default:
				others++
			}
		}
	}
	return here && others < c.Layout().N()-1
}

func (b *Coded) apply(c *Card, e Event) error {
	for _, code := range b.Codes {
		if !slices.Contains(c.Codes, code) {
			c.Codes = append(c.Codes, code)
		}
	}
	if h, known := c.handledSinceClearing(); known {
		c.codeRuns.add(stamp(c, e, b), h)
	}
	return nil
}

func (b *CodesCleared) apply(c *Card, e Event) error {
	c.Codes = nil
	c.codeRuns.since, c.codeRuns.seating = e.Seq, c.Seating
	return nil
}
