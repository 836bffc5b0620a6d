package fault

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"halforder/engine"
)

// Gauge turns measured values into an outcome of its check.
type Gauge struct {
	Check      string
	Names      []string // what is measured, one value each: "idle", "fast"
	Unit       string   // base unit of all of them
	Low, High  float64  // outside these the value is a slip, in Unit
	Injections []Injection
	Rules      []Rule // the first that holds decides
	Source     string
}

// Rule gives an outcome when all its conditions hold. The words a condition may
// use are the names of the gauge, and for a gauge with one value also
//
//	v      the value
//	ratio  the value over the highest of all cylinders
//	off    the value less the mean of all cylinders
type Rule struct {
	Conditions []Condition
	Outcome    string
}

// Condition compares a word with a number.
type Condition struct {
	Word  string
	Op    string // one of < <= > >=
	Limit float64
}

type unit struct {
	name           string // as written in the data
	base           string
	factor, offset float64 // base = value·factor + offset
}

// Value is a number as it was typed, with its unit.
type Value struct {
	Number float64
	Unit   string
}

func (v Value) String() string {
	return strings.TrimSpace(strconv.FormatFloat(v.Number, 'g', -1, 64) + " " + v.Unit)
}

// asTyped are the other ways to write a number: a comma for the point, a true minus.
var asTyped = strings.NewReplacer(",", ".", "−", "-")

// ParseValue reads "11.8 bar", "0,7 ohm" or "−12%". A number without a unit is
// refused with the unit the check wants.
func (c *Catalogue) ParseValue(check, text string) (Value, error) {
	g, err := c.gauge(check, "")
	if err != nil {
		return Value{}, err
	}
	text = strings.TrimSpace(text)
	end := strings.LastIndexAny(text, "0123456789.") + 1
	number, err := strconv.ParseFloat(asTyped.Replace(text[:end]), 64)
	if err != nil || math.IsNaN(number) || math.IsInf(number, 0) {
		return Value{}, fmt.Errorf("%s: %q is not a number with a unit, write it like %s", check, text, g.example())
	}
	v := Value{number, strings.TrimSpace(text[end:])}
	if v.Unit == "" && g.Unit == CountUnit {
		v.Unit = CountUnit // there is no other it could be
	}
	_, err = c.toBase(g, v)
	return v, err
}

// CountUnit is the unit of what is counted, which nobody writes.
const CountUnit = "count"

func (g Gauge) example() string {
	return Value{math.Round((g.Low+g.High)/2*10) / 10, g.Unit}.String()
}

// toBase converts to the unit of the gauge and refuses what cannot be.
func (c *Catalogue) toBase(g Gauge, v Value) (float64, error) {
	u, known := c.unitTyped(v.Unit)
	if !known || u.base != g.Unit {
		return 0, fmt.Errorf("%s: %s has the wrong unit, this check is read in %s", g.Check, quoted(v), strings.Join(c.unitsOf(g.Unit), ", "))
	}
	base := v.Number*u.factor + u.offset
	if math.IsNaN(base) || base < g.Low || base > g.High {
		return 0, fmt.Errorf("%s: %s cannot be, a reading lies between %g and %g %s: read it again, or check the unit", g.Check, v, g.Low, g.High, g.Unit)
	}
	return base, nil
}

// unitTyped finds a unit by how it was typed. Large and small letters may be mixed up,
// but not where they part two units, as m and M before Ω do.
func (c *Catalogue) unitTyped(name string) (u unit, known bool) {
	if u, known = c.units[name]; known {
		return u, true
	}
	for _, other := range c.units {
		if strings.EqualFold(other.name, name) {
			if known {
				return unit{}, false
			}
			u, known = other, true
		}
	}
	return u, known
}

func quoted(v Value) string {
	if v.Unit == "" {
		return fmt.Sprintf("%g without a unit", v.Number)
	}
	return v.String()
}

func (c *Catalogue) unitsOf(base string) []string {
	var out []string
	for _, u := range c.units {
		if u.base == base {
			out = append(out, u.name)
		}
	}
	slices.Sort(out)
	return out
}

// Measured reports whether a check is read as numbers, and in what unit.
func (c *Catalogue) Measured(check string) (Gauge, bool) {
	g, err := c.gauge(check, "")
	return g, err == nil
}

func (c *Catalogue) gauge(check string, inj Injection) (Gauge, error) {
	for _, g := range c.gauges[check] {
		if inj == "" || g.Injections == nil || slices.Contains(g.Injections, inj) {
			return g, nil
		}
	}
	if _, err := c.Check(check); err != nil {
		return Gauge{}, err
	}
	return Gauge{}, fmt.Errorf("check %q is not read as a number: give one of its outcomes", check)
}

// Judge turns measured values into outcomes. The key is the cylinder, 0 for a
// check of the whole engine; the values are in the order of Gauge.Names. A
// check that compares cylinders needs at least two of them.
func (c *Catalogue) Judge(check string, inj Injection, values map[engine.Cylinder][]Value) (map[engine.Cylinder]string, error) {
	g, err := c.gauge(check, inj)
	if err != nil {
		return nil, err
	}
	base, err := c.allToBase(g, values)
	if err != nil {
		return nil, err
	}
	if len(base) < 2 && g.compares() {
		return nil, fmt.Errorf("%s: this check compares cylinders, give the readings of all of them", check)
	}
	return g.judgeAll(base)
}

func (c *Catalogue) allToBase(g Gauge, values map[engine.Cylinder][]Value) (map[engine.Cylinder][]float64, error) {
	out := map[engine.Cylinder][]float64{}
	for _, cyl := range slices.Sorted(maps.Keys(values)) {
		if len(values[cyl]) != len(g.Names) {
			return nil, fmt.Errorf("%s: %d values given, %d wanted (%s)", g.Check, len(values[cyl]), len(g.Names), strings.Join(g.Names, ", "))
		}
		for _, v := range values[cyl] {
			b, err := c.toBase(g, v)
			if err != nil {
				return nil, err
			}
			out[cyl] = append(out[cyl], b)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%s: no readings given", g.Check)
	}
	return out, nil
}

// compares reports whether one reading alone says nothing, since every rule but the last
// looks at the others.
func (g Gauge) compares() bool {
	comparing := 0
	for _, r := range g.Rules {
		switch {
		case len(r.Conditions) == 0:
		case slices.ContainsFunc(r.Conditions, Condition.compares):
			comparing++
		default:
			return false
		}
	}
	return comparing > 0
}

func (c Condition) compares() bool { return c.Word == "ratio" || c.Word == "off" }

func (g Gauge) judgeAll(base map[engine.Cylinder][]float64) (map[engine.Cylinder]string, error) {
	highest, sum := math.Inf(-1), 0.0
	for _, v := range base {
		highest, sum = max(highest, v[0]), sum+v[0]
	}
	out := map[engine.Cylinder]string{}
	for cyl, v := range base {
		words := map[string]float64{"v": v[0], "off": math.NaN(), "ratio": math.NaN()} // one alone compares with nothing
		if len(base) > 1 {
			words["off"] = v[0] - sum/float64(len(base))
			words["ratio"] = v[0] / max(highest, math.SmallestNonzeroFloat64) // all at nought are low
		}
		for i, name := range g.Names {
			words[name] = v[i]
		}
		outcome, ok := g.first(words)
		if !ok {
			return nil, fmt.Errorf("%s: no rule covers %v %s", g.Check, v, g.Unit)
		}
		out[cyl] = outcome
	}
	return out, nil
}

func (g Gauge) first(words map[string]float64) (string, bool) {
	for _, r := range g.Rules {
		if r.holds(words) {
			return r.Outcome, true
		}
	}
	return "", false
}

func (r Rule) holds(words map[string]float64) bool {
	for _, c := range r.Conditions {
		v := words[c.Word]
		ok := map[string]bool{"<": v < c.Limit, "<=": v <= c.Limit, ">": v > c.Limit, ">=": v >= c.Limit}[c.Op]
		if !ok {
			return false
		}
	}
	return true
}

// parseRules reads "v<0.3:low v<=2:ok else:open".
func parseRules(r row, column string, names []string) []Rule {
	var out []Rule
	for field := range strings.FieldsSeq(r.text(column)) {
		conditions, outcome, ok := strings.Cut(field, ":")
		if !ok {
			r.fail("%s: %q is not a rule, write v<0.3:low", column, field)
			continue
		}
		rule := Rule{Outcome: outcome}
		if conditions != "else" {
			for text := range strings.SplitSeq(conditions, "&") {
				rule.Conditions = append(rule.Conditions, parseCondition(r, text, names))
			}
		}
		out = append(out, rule)
	}
	return out
}

func parseCondition(r row, text string, names []string) Condition {
	i := strings.IndexAny(text, "<>")
	if i < 0 {
		r.fail("rule: %q compares nothing, write v<0.3", text)
		return Condition{}
	}
	c := Condition{Word: text[:i], Op: text[i : i+1]}
	rest := text[i+1:]
	if strings.HasPrefix(rest, "=") {
		c.Op, rest = c.Op+"=", rest[1:]
	}
	limit, err := strconv.ParseFloat(rest, 64)
	if err != nil {
		r.fail("rule: %q is not a number", rest)
	}
	c.Limit = limit
	if !slices.Contains(append([]string{"v", "ratio", "off"}, names...), c.Word) {
		r.fail("rule: unknown word %q, use v, ratio, off or one of %s", c.Word, strings.Join(names, ", "))
	}
	return c
}
