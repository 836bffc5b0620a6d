package fault

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
)

//go:embed data/*.csv
var embedded embed.FS

// Default is the catalogue that comes with the program.
func Default() (*Catalogue, error) { return defaultCatalogue() }

var defaultCatalogue = sync.OnceValues(func() (*Catalogue, error) {
	files, err := fs.Sub(embedded, "data")
	if err != nil {
		return nil, err
	}
	return Load(files)
})

// ForShop is Default with the CSV files of a workshop's folder laid over it, or
// Default itself where there is no such folder. The error names file and line.
func ForShop(folder string) (*Catalogue, error) {
	switch info, err := os.Stat(folder); {
	case errors.Is(err, fs.ErrNotExist):
		return Default()
	case err != nil:
		return nil, fmt.Errorf("catalogue of the workshop: %w", err)
	case !info.IsDir():
		return nil, fmt.Errorf("catalogue of the workshop: %s is no folder; it holds CSV files such as settings.csv", folder)
	}
	if err := knownFiles(folder); err != nil {
		return nil, err
	}
	files, err := fs.Sub(embedded, "data")
	if err != nil {
		return nil, err
	}
	c, err := Load(files, os.DirFS(folder))
	if err != nil {
		return nil, fmt.Errorf("catalogue of the workshop in %s: %w", folder, err)
	}
	return c, nil
}

// knownFiles refuses a CSV file that nothing would read.
func knownFiles(folder string) error {
	names, err := filepath.Glob(filepath.Join(folder, "*.csv"))
	if err != nil {
		return fmt.Errorf("catalogue of the workshop: %w", err)
	}
	var known []string
	for _, f := range dataFiles {
		known = append(known, f.name)
	}
	for _, name := range names {
		if !slices.Contains(known, filepath.Base(name)) {
			return fmt.Errorf("catalogue of the workshop: nothing reads %s: use one of %s", name, strings.Join(known, ", "))
		}
	}
	return nil
}

// Load reads a catalogue from a folder of CSV files and then lays each overlay
// over it: files of the same names, as many as wanted, whose rows replace those
// with the same key or come in addition. The error lists every fault found,
// each with file and line.
func Load(base fs.FS, overlays ...fs.FS) (*Catalogue, error) {
	c := newCatalogue()
	for i, files := range append([]fs.FS{base}, overlays...) {
		if err := c.read(files, i > 0); err != nil {
			return nil, err
		}
	}
	if err := c.validate(); err != nil {
		return nil, err
	}
	c.compile()
	return c, nil
}

func newCatalogue() *Catalogue {
	return &Catalogue{
		complaints: map[Complaint]ComplaintInfo{}, priors: map[Complaint]map[string]float64{},
		behaviours: map[Severity]map[Regime]Behaviour{}, responses: map[responseKey]*[]float64{},
		spoken: map[[2]string]bool{}, gauges: map[string][]Gauge{}, units: map[string]unit{}, settings: map[string]Setting{},
		cautions: map[string]cautionInfo{}, written: map[string]string{},
	}
}

type cautionInfo struct {
	Caution
	stop bool
}

// file is one data file: its columns and what to do with a row.
type file struct {
	name    string
	columns string
	row     func(*Catalogue, row)
}

// dataFiles are in the order in which they build on each other.
var dataFiles = []file{
	{"settings.csv", "name,value,unit,words,source", (*Catalogue).addSetting},
	{"units.csv", "unit,base,factor,offset,source", (*Catalogue).addUnit},
	{"cautions.csv", "code,kind,words,source", (*Catalogue).addCaution},
	{"causes.csv", "code,title,lives,severities,ignitions,injections,repair,contact,wears,source", (*Catalogue).addCause},
	{"complaints.csv", "complaint,title,mix,severities,not_misfire,not_listed,pairs,source", (*Catalogue).addComplaint},
	{"priors.csv", "cause,dead,weak,cold,load,bank,random,pair,source", (*Catalogue).addPriors},
	{"severities.csv", "severity,regime,works,weak,dead,between_s,source", (*Catalogue).addBehaviour},
	{"checks.csv", "code,title,asks,scope,swaps,reach,minutes_easy,minutes_hard,cash,risk,regimes,ignitions,injections,needs,disturbs,cautions,source", (*Catalogue).addCheck},
	{"outcomes.csv", "check,outcome,words,source", (*Catalogue).addOutcome},
	{"responses.csv", "check,subject,severity,when,answers,source", (*Catalogue).addResponse},
	{"readings.csv", "check,names,unit,low,high,injections,rules,source", (*Catalogue).addGauge},
	{"repairs.csv", "code,title,renews,reach,minutes_easy,minutes_hard,parts,needless,ignitions,injections,cautions,source", (*Catalogue).addRepair},
	{"links.csv", "a,b,where,lift,source", (*Catalogue).addLink},
}

func (c *Catalogue) read(files fs.FS, optional bool) error {
	for _, f := range dataFiles {
		t, err := readTable(files, f.name, strings.Split(f.columns, ","), optional)
		if err != nil {
			return err
		}
		for _, r := range t.rows {
			f.row(c, r)
		}
		if err := errors.Join(t.errs...); err != nil {
			return err
		}
	}
	return nil
}

func (c *Catalogue) addSetting(r row) {
	name, low, high := r.need("name"), 0.0, 1e9
	switch {
	case strings.HasPrefix(name, "flag-"), strings.HasPrefix(name, "watch-"):
		low, high = leastDoubt, 1-leastDoubt
	case r.text("unit") == "":
		high = 1 // a chance or a share
	}
	c.settings[name] = Setting{r.number("value", low, high), r.text("unit"), r.need("words"), r.text("source")}
}

// leastDoubt keeps what a person notes from being certain: then one slip would
// rule out everything.
const leastDoubt = 0.001

func (c *Catalogue) addUnit(r row) {
	name := r.need("unit")
	c.units[name] = unit{name, r.need("base"), r.number("factor", 1e-9, 1e9), r.number("offset", -1e6, 1e6)}
}

func (c *Catalogue) addCaution(r row) {
	kind := r.text("kind")
	if kind != "caution" && kind != "stop" {
		r.fail("kind: %q is neither caution nor stop", kind)
	}
	code := r.need("code")
	c.cautions[code] = cautionInfo{Caution{code, r.need("words")}, kind == "stop"}
}

func (c *Catalogue) addCause(r row) {
	x := &Cause{
		Code: r.need("code"), Title: r.need("title"), Lives: Lives(r.text("lives")), Severities: r.weights("severities"),
		Ignitions: parseAll(r, "ignitions", ParseIgnition), Injections: parseAll(r, "injections", ParseInjection),
		Repair: r.need("repair"), Contact: r.number("contact", 0, 1), Wears: r.text("wears") == "yes", Source: r.text("source"),
	}
	if !slices.Contains(allLives, x.Lives) {
		r.fail("lives: unknown %q, use one of %s", x.Lives, joinWords(allLives))
	}
	checkShares(r, "severities", x.Severities)
	for _, w := range x.Severities {
		if _, err := ParseSeverity(w.Name); err != nil {
			r.fail("severities: %v", err)
		}
	}
	c.written["cause "+x.Code] = r.place()
	c.causes = replace(c.causes, x, func(old *Cause) bool { return old.Code == x.Code })
}

// replace puts x in the place of the element it supersedes, or at the end.
func replace[T any](in []T, x T, same func(T) bool) []T {
	if i := slices.IndexFunc(in, same); i >= 0 {
		in[i] = x
		return in
	}
	return append(in, x)
}

// shareTolerance is how far shares written with two decimals may miss 1.
const shareTolerance = 1e-6

func checkShares(r row, column string, ws []Weight) {
	if sum := sumWeights(ws); math.Abs(sum-1) > shareTolerance {
		r.fail("%s: the shares sum to %g, not 1", column, sum)
	}
}

func (c *Catalogue) addComplaint(r row) {
	info := ComplaintInfo{
		Title: r.need("title"), Mix: r.weights("mix"), Severities: r.weights("severities"),
		NotMisfire: r.number("not_misfire", 0, 0.9), NotListed: r.number("not_listed", 0, 0.5), Pairs: r.number("pairs", 0, 0.9),
	}
	if len(info.Mix) > 0 {
		checkShares(r, "mix", info.Mix)
	}
	for _, w := range info.Mix {
		if _, err := ParseComplaint(w.Name); err != nil {
			r.fail("mix: %v", err)
		}
	}
	code := parseOne(r, "complaint", ParseComplaint)
	c.written["complaint "+string(code)] = r.place()
	c.complaints[code] = info
}

func (c *Catalogue) addPriors(r row) {
	cause := r.need("cause")
	if _, err := c.Cause(cause); err != nil {
		r.fail("%v", err)
	}
	for _, x := range Complaints() {
		if x == Rough {
			continue
		}
		if c.priors[x] == nil {
			c.priors[x] = map[string]float64{}
		}
		c.priors[x][cause] = r.number(string(x), 0, 100)
	}
}

func (c *Catalogue) addBehaviour(r row) {
	s, g := parseOne(r, "severity", ParseSeverity), parseOne(r, "regime", ParseRegime)
	b := Behaviour{States{r.number("works", 0, 1), r.number("weak", 0, 1), r.number("dead", 0, 1)}, r.number("between_s", 0, 1e6)}
	if sum := b.States[0] + b.States[1] + b.States[2]; math.Abs(sum-1) > shareTolerance {
		r.fail("works, weak and dead sum to %g, not 1", sum)
	}
	if c.behaviours[s] == nil {
		c.behaviours[s] = map[Regime]Behaviour{}
	}
	c.behaviours[s][g] = b
}

func (c *Catalogue) addCheck(r row) {
	x := &Check{
		Code: r.need("code"), Title: r.need("title"), Asks: r.need("asks"), Scope: Scope(r.text("scope")),
		Reach: r.text("reach") == "yes", MinutesEasy: r.number("minutes_easy", 0, 2000), MinutesHard: r.number("minutes_hard", 0, 2000),
		Cash: r.number("cash", 0, 1e5), Risk: r.number("risk", 0, 1e5), Regimes: parseAll(r, "regimes", ParseRegime),
		Ignitions: parseAll(r, "ignitions", ParseIgnition), Injections: parseAll(r, "injections", ParseInjection),
		Needs: r.list("needs"), Disturbs: parseAll(r, "disturbs", ParsePartKind), Source: r.text("source"),
	}
	if !slices.Contains(allScopes, x.Scope) {
		r.fail("scope: unknown %q, use one of %s", x.Scope, joinWords(allScopes))
	}
	if r.text("swaps") != "" {
		x.Swaps = parseOne(r, "swaps", ParsePartKind)
	}
	if x.MinutesHard < x.MinutesEasy {
		r.fail("minutes_hard %g is less than minutes_easy %g", x.MinutesHard, x.MinutesEasy)
	}
	x.Cautions, x.Stops = c.cautionsOf(r)
	if old, err := c.Check(x.Code); err == nil {
		x.Outcomes = old.Outcomes
	}
	c.written["check "+x.Code] = r.place()
	c.checks = replace(c.checks, x, func(old *Check) bool { return old.Code == x.Code })
}

func (c *Catalogue) cautionsOf(r row) (cautions, stops []Caution) {
	for _, code := range r.list("cautions") {
		info, ok := c.cautions[code]
		switch {
		case !ok:
			r.fail("cautions: unknown %q", code)
		case info.stop:
			stops = append(stops, info.Caution)
		default:
			cautions = append(cautions, info.Caution)
		}
	}
	return cautions, stops
}

func (c *Catalogue) addOutcome(r row) {
	k, err := c.Check(r.need("check"))
	if err != nil {
		r.fail("%v", err)
		return
	}
	o := Outcome{r.need("outcome"), r.need("words")}
	k.Outcomes = replace(k.Outcomes, o, func(old Outcome) bool { return old.Code == o.Code })
}

func (c *Catalogue) addResponse(r row) {
	k, err := c.Check(r.need("check"))
	if err != nil {
		r.fail("%v", err)
		return
	}
	key := responseKey{check: k.Code, subject: r.need("subject"), when: anyTime}
	if s := r.text("severity"); s != "*" && s != "" {
		key.severity = parseOne(r, "severity", ParseSeverity)
	}
	switch r.text("when") {
	case "showing":
		key.when = int(Showing)
	case "resting":
		key.when = int(Resting)
	case "", "*":
	default:
		r.fail("when: %q is neither showing nor resting", r.text("when"))
	}
	c.checkSubject(r, key.subject)
	p := answers(r, k)
	c.responses[key] = &p
	c.spoken[[2]string{k.Code, key.subject}] = true
}

func (c *Catalogue) checkSubject(r row, subject string) {
	if slices.Contains([]string{soundEngine, weakState, deadState, several, shutOff}, subject) {
		return
	}
	if home, ok := strings.CutPrefix(subject, homePrefix); ok && slices.Contains(allLives, Lives(home)) {
		return
	}
	if _, err := c.Cause(subject); err != nil {
		r.fail("subject: %q is neither sound, state:weak, state:dead, several, shutoff, home:PLACE nor a cause", subject)
	}
}

// answers puts the shares of a row into the order of the outcomes.
func answers(r row, k *Check) []float64 {
	ws := r.weights("answers")
	checkShares(r, "answers", ws)
	out := make([]float64, len(k.Outcomes))
	for _, w := range ws {
		i, err := k.Outcome(w.Name)
		if err != nil {
			r.fail("answers: %v", err)
			continue
		}
		out[i] += w.P
	}
	return out
}

func (c *Catalogue) addGauge(r row) {
	k, err := c.Check(r.need("check"))
	if err != nil {
		r.fail("%v", err)
		return
	}
	g := Gauge{
		Check: k.Code, Names: r.list("names"), Unit: r.need("unit"), Low: r.number("low", -1e12, 1e12), High: r.number("high", -1e12, 1e12),
		Injections: parseAll(r, "injections", ParseInjection), Source: r.text("source"),
	}
	if len(g.Names) == 0 {
		r.fail("names is empty: say what is measured")
	}
	g.Rules = parseRules(r, "rules", g.Names)
	for _, rule := range g.Rules {
		if _, err := k.Outcome(rule.Outcome); err != nil {
			r.fail("rules: %v", err)
		}
	}
	if u, ok := c.units[g.Unit]; !ok || u.base != g.Unit {
		r.fail("unit: %q is no base unit of units.csv", g.Unit)
	}
	c.gauges[k.Code] = replace(c.gauges[k.Code], g, func(old Gauge) bool { return slices.Equal(old.Injections, g.Injections) })
}

func (c *Catalogue) addRepair(r row) {
	x := &Repair{
		Code: r.need("code"), Title: r.need("title"), Renews: Lives(r.text("renews")), Reach: r.text("reach") == "yes",
		MinutesEasy: r.number("minutes_easy", 0, 1e4), MinutesHard: r.number("minutes_hard", 0, 1e4),
		Parts: r.number("parts", 0, 1e5), Needless: r.number("needless", 0, 1e5),
		Ignitions: parseAll(r, "ignitions", ParseIgnition), Injections: parseAll(r, "injections", ParseInjection), Source: r.text("source"),
	}
	if !slices.Contains(allLives, x.Renews) {
		r.fail("renews: unknown %q, use one of %s", x.Renews, joinWords(allLives))
	}
	x.Cautions, _ = c.cautionsOf(r)
	c.repairs = replace(c.repairs, x, func(old *Repair) bool {
		return old.Code == x.Code && slices.Equal(old.Injections, x.Injections) && slices.Equal(old.Ignitions, x.Ignitions)
	})
}

func (c *Catalogue) addLink(r row) {
	l := Link{A: r.need("a"), B: r.need("b"), Same: r.text("where") == "same", Lift: r.number("lift", 0, 1000), Source: r.text("source")}
	for _, code := range []string{l.A, l.B} {
		if _, err := c.Cause(code); err != nil {
			r.fail("%v", err)
		}
	}
	if w := r.text("where"); w != "same" && w != "other" {
		r.fail("where: %q is neither same nor other", w)
	}
	c.links = replace(c.links, l, func(old Link) bool { return old.A == l.A && old.B == l.B && old.Same == l.Same })
}
