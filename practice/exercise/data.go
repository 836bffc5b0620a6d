package exercise

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
	"sync"

	"halforder/practice"
)

//go:embed cases.csv
var casesCSV string

//go:embed checks.csv
var checksCSV string

//go:embed repairs.csv
var repairsCSV string

// Offer is a check on the menu.
type Offer struct {
	Name        string
	PerCylinder bool
	Minutes     float64 // with the access of this engine
	Money       float64
	Tells       string

	easy, buried float64
}

// suspect is one thing that may be behind a complaint.
type suspect struct {
	complaint, kind, manner string
	weight, severity        float64
}

// repair is what mends a kind of fault.
type repair struct {
	action                string // "renew coil", "mend plenum-leak"
	easy, buried, payment float64
}

type tables struct {
	offers   []Offer
	suspects []suspect
	repairs  map[string]repair
}

// data reads the tables once; they are ours and tests read them, so a bad line
// is a programmer's error.
var data = sync.OnceValue(func() tables {
	t := tables{repairs: map[string]repair{}}
	for _, f := range rows(checksCSV) {
		t.offers = append(t.offers, Offer{Name: f[0], PerCylinder: f[1] == "cylinder", easy: number(f[2]), buried: number(f[3]), Money: number(f[4]), Tells: f[5]})
	}
	for _, f := range rows(casesCSV) {
		t.suspects = append(t.suspects, suspect{f[0], f[1], f[4], number(f[2]), number(f[3])})
	}
	for _, f := range rows(repairsCSV) {
		t.repairs[f[0]] = repair{f[1], number(f[2]), number(f[3]), number(f[4])}
	}
	return t
})

func rows(text string) [][]string {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		panic("exercise: " + err.Error())
	}
	return all[1:]
}

func number(text string) float64 {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic("exercise: " + err.Error())
	}
	return x
}

// at is the suspect as a fault at a cylinder of the engine.
func (s suspect) at(cylinder int) practice.Fault {
	site := ""
	for _, k := range practice.Kinds() {
		if k.Name == s.kind && !(k.Site == practice.AtEngine || k.Site == practice.AtBank || k.Site == practice.AtFeed) {
			site = fmt.Sprintf("@%d", cylinder)
		}
	}
	text := fmt.Sprintf("%s%s:%g", s.kind, site, s.severity)
	if s.manner != "" {
		text += "," + s.manner
	}
	f, err := practice.ParseFault(text)
	if err != nil {
		panic("exercise: cases.csv: " + err.Error())
	}
	return f
}
