package exercise

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"halforder/practice"
)

// Score is the end of an exercise.
type Score struct {
	Right     bool     `json:"right"`
	Truth     string   `json:"truth"` // the hidden fault in words
	Named     string   `json:"named"`
	Bill      float64  `json:"bill"`       // yours, repair of what you named included, unless done already
	Best      float64  `json:"best_bill"`  // the best plan's bill for this fault
	Plan      []string `json:"best_plan"`  // its steps
	Points    int      `json:"points"`     // 100·best/yours when right, at most 100; else 0
	CatalystC float64  `json:"catalyst_c"` // hottest catalyst at the end
}

// Name closes the case: the kind of fault as practice knows it, and the
// cylinder where it has one ("coil-open 3", "plenum-leak"). Kinds that the same
// repair mends count as the same.
func (x *Exercise) Name(line string) (Score, error) {
	if x.over {
		return Score{}, fmt.Errorf("the case is closed")
	}
	kind, cylinder, err := x.readName(line)
	if err != nil {
		return Score{}, err
	}
	p, err := x.plan()
	if err != nil {
		return Score{}, err
	}
	s := Score{Truth: x.truth(), Named: strings.TrimSpace(kind.Title + " " + cylinderWord(cylinder))}
	s.Right = data().repairs[kind.Name].action == data().repairs[x.hidden.kind].action && (cylinder == 0 || cylinder == int(x.at))
	s.Plan, s.Best = p.walk()
	s.Bill = math.Round(Bill(x.Minutes, x.Money) + x.openRepair(kind.Name))
	if s.Right {
		s.Points = min(100, int(math.Round(100*s.Best/math.Max(s.Bill, 1))))
	}
	s.CatalystC = math.Round(slices.Max(x.bay.e.State().CatalystC))
	x.over = true
	return s, nil
}

// openRepair is what the repair of the named fault still costs.
func (x *Exercise) openRepair(kind string) float64 {
	r := data().repairs[kind]
	for _, entry := range x.Done {
		if strings.HasPrefix(entry.Order, r.action+" ") {
			return verifyMinutes * RatePerMinute
		}
	}
	return Bill(x.access.minutes(r.easy, r.buried)+verifyMinutes, r.payment)
}

func (x *Exercise) readName(line string) (practice.Kind, int, error) {
	words := strings.Fields(strings.NewReplacer("@", " ", ",", " ").Replace(strings.ToLower(line)))
	if len(words) == 0 {
		return practice.Kind{}, 0, fmt.Errorf("name the fault, for instance %q", "coil-open 3")
	}
	i := slices.IndexFunc(practice.Kinds(), func(k practice.Kind) bool { return k.Name == words[0] })
	if i < 0 || data().repairs[words[0]].action == "" {
		return practice.Kind{}, 0, fmt.Errorf("fault %q is unknown, expected one of %s", words[0], strings.Join(Names(), ", "))
	}
	kind := practice.Kinds()[i]
	shared := kind.Site == practice.AtEngine || kind.Site == practice.AtBank || kind.Site == practice.AtFeed
	switch {
	case shared && len(words) > 1:
		return kind, 0, fmt.Errorf("%s concerns no single cylinder here, leave out %q", kind.Name, words[1])
	case shared:
		return kind, 0, nil
	case len(words) != 2:
		return kind, 0, fmt.Errorf("%s needs its cylinder, for instance %q", kind.Name, kind.Name+" 2")
	}
	n, err := strconv.Atoi(words[1])
	if err != nil || n < 1 || n > x.Layout.N() {
		return kind, 0, fmt.Errorf("cylinder %q does not exist, this engine has 1 to %d", words[1], x.Layout.N())
	}
	return kind, n, nil
}

// Names lists the faults an exercise may hide, as they are to be named.
func Names() (out []string) {
	for _, k := range practice.Kinds() {
		if data().repairs[k.Name].action != "" {
			out = append(out, k.Name)
		}
	}
	return out
}

func (x *Exercise) truth() string {
	for _, k := range practice.Kinds() {
		if k.Name == x.hidden.kind {
			if x.hidden.at(1).Cylinder == 0 {
				return k.Title
			}
			return k.Title + " " + cylinderWord(int(x.at))
		}
	}
	return x.hidden.kind
}

func cylinderWord(c int) string {
	if c == 0 {
		return ""
	}
	return "at cylinder " + itoa(c)
}

func itoa(n int) string { return strconv.Itoa(n) }
