package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// checkLine is one check in the list.
type checkLine struct {
	Code, Title, Asks, Scope string
	Done                     bool
}

// checkLines lists the checks this car can have; swaps are done on the drawing.
func (b *Bench) checkLines(card *job.Card) []checkLine {
	done := map[string]bool{}
	for _, r := range card.AllReadings() {
		done[r.What.Check] = true
	}
	var out []checkLine
	for _, k := range b.Catalogue.Checks() {
		if k.Swaps == "" && k.Fits(card.Opened.Ignition, card.Opened.Injection) {
			out = append(out, checkLine{k.Code, k.Title, k.Asks, string(k.Scope), done[k.Code]})
		}
	}
	return out
}

type checksData struct {
	Query  string
	Checks []checkLine
}

func (b *Bench) checksPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "checks")
	if err != nil {
		return err
	}
	v := checksData{Query: strings.TrimSpace(r.FormValue("find"))}
	for _, line := range b.checkLines(card) {
		if strings.Contains(strings.ToLower(line.Title+" "+line.Asks+" "+line.Code), strings.ToLower(v.Query)) {
			v.Checks = append(v.Checks, line)
		}
	}
	p.Data = v
	return b.show(w, "checks", p)
}

// checkData is the page of one check.
type checkData struct {
	Check     *fault.Check
	Unit      string   // where it is read as numbers
	Names     []string // of the numbers
	Low, High float64
	Places    []job.Place     // to answer for
	One       engine.Cylinder // answered for this cylinder only
	Outcomes  []fault.Outcome
	Minutes   float64
	Regimes   []choice
	Stops     []fault.Caution
}

// stopsFor are the hard stops of a step on this car.
func stopsFor(card *job.Card, stops []fault.Caution) []fault.Caution {
	var out []fault.Caution
	for _, s := range stops {
		if s.Code != "hybrid" || card.Opened.Hybrid {
			out = append(out, s)
		}
	}
	return out
}

func (b *Bench) checkPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "checks")
	if err != nil {
		return err
	}
	check, err := b.checkOf(card, r.PathValue("check"))
	if err != nil {
		return err
	}
	v := checkData{Check: check, Outcomes: check.Outcomes, Minutes: check.MinutesEasy, Stops: stopsFor(card, check.Stops)}
	v.Places = job.AnswerPlaces(check, card.Layout())
	if gauge, ok := b.Catalogue.Measured(check.Code); ok {
		v.Unit, v.Names, v.Low, v.High = gauge.Unit, gauge.Names, gauge.Low, gauge.High
	}
	if at := r.FormValue("at"); at != "" && (check.Scope == fault.PerCylinder || check.Scope == fault.EachCylinder) {
		if v.One, err = cylinderOf(card, at); err != nil {
			return err
		}
	}
	for _, when := range fault.Regimes() {
		v.Regimes = append(v.Regimes, choice{Value: string(when), Words: regimeWords(when), On: when == regimeFor(check, card.Opened.Regime)})
	}
	p.Data, p.Scripts = v, []string{"check.js"}
	return b.show(w, "check", p)
}

// regimeFor is the condition to offer first: the complaint's, if the check can
// be done in it.
func regimeFor(check *fault.Check, wanted fault.Regime) fault.Regime {
	if slices.Contains(check.Regimes, wanted) || len(check.Regimes) == 0 {
		return wanted
	}
	return check.Regimes[0]
}

func (b *Bench) checkOf(card *job.Card, code string) (*fault.Check, error) {
	check, err := b.Catalogue.Check(code)
	if err != nil {
		return nil, wrong(http.StatusNotFound, "%v", err)
	}
	if !check.Fits(card.Opened.Ignition, card.Opened.Injection) {
		return nil, wrong(http.StatusNotFound, "this car cannot have the check %q", check.Title)
	}
	return check, nil
}

// enterCheck reads the answers: fields r0 for the whole engine, r1 … for
// cylinders, each an outcome or a value with its unit.
func (b *Bench) enterCheck(w http.ResponseWriter, r *http.Request) error {
	card, err := b.card(r)
	if err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return badInput(err)
	}
	check, err := b.checkOf(card, r.PathValue("check"))
	if err != nil {
		return err
	}
	if err := f.confirmed(stopsFor(card, check.Stops)); err != nil {
		return err
	}
	entered, err := f.entered(b.Catalogue, card, check)
	if err != nil {
		return badInput(err)
	}
	return b.enter(w, r, card.ID, "", entered)
}

func (f form) entered(cat *fault.Catalogue, card *job.Card, check *fault.Check) (*job.Entered, error) {
	answers := f.answers(cat, card, check)
	if len(answers) == 0 {
		return nil, fmt.Errorf("%s: nothing was answered; tap an answer or type a value", check.Title)
	}
	results, err := card.ReadResults(cat, check.Code, answers)
	if err != nil {
		return nil, err
	}
	regime, err := fault.ParseRegime(f.text("regime"))
	if err != nil {
		return nil, err
	}
	minutes, err := f.number("minutes")
	if err != nil {
		return nil, err
	}
	cash, err := f.cents("cash")
	if err != nil {
		return nil, err
	}
	out := &job.Entered{Check: check.Code, Results: results, Regime: regime, Minutes: minutes, Cash: cash, Words: f.text("words")}
	if p := belief.Presence(f.text("miss")); p == belief.Present || p == belief.Absent {
		out.Miss = p
	}
	return out, nil
}

// answers writes what was tapped and typed the way a person would type it.
func (f form) answers(cat *fault.Catalogue, card *job.Card, check *fault.Check) []string {
	gauge, measured := cat.Measured(check.Code)
	var out []string
	add := func(field, place string) {
		if tapped := f.text(field); tapped != "" {
			out = append(out, place+tapped)
			return
		}
		if !measured {
			return
		}
		var values []string
		for i := range gauge.Names {
			if v := f.text(fmt.Sprintf("%s_v%d", field, i)); v != "" {
				values = append(values, withUnit(v, gauge.Unit))
			}
		}
		if len(values) > 0 {
			out = append(out, place+strings.Join(values, "/"))
		}
	}
	add("r0", "")
	for _, c := range card.Layout().Cylinders() {
		add(fmt.Sprintf("r%d", c), fmt.Sprintf("%d=", c))
	}
	return out
}

// withUnit adds the unit to a bare number.
func withUnit(text, unit string) string {
	if strings.ContainsFunc(text, func(r rune) bool { return r > '9' || r == '%' }) {
		return text
	}
	return text + unit
}
