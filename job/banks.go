package job

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/reason/fault"
)

// ofBanks reports whether a check is done bank by bank on this engine.
func ofBanks(k *fault.Check, l engine.Layout) bool {
	return k.Scope == fault.PerBank && len(l.Banks()) > 1
}

// Place is where one answer of a check belongs.
type Place struct {
	Name     string          // "Cylinder 3", "Bank 2: cylinders 4, 5 and 6", "Answer" for the whole engine
	Cylinder engine.Cylinder // any of a bank; 0 is the whole engine
}

// AnswerPlaces are the places that a check is answered for on an engine, in order.
func AnswerPlaces(k *fault.Check, l engine.Layout) []Place {
	var out []Place
	switch {
	case k.Scope == fault.PerCylinder, k.Scope == fault.EachCylinder:
		for _, c := range l.Cylinders() {
			out = append(out, Place{fmt.Sprintf("Cylinder %d", c), c})
		}
	case ofBanks(k, l):
		for i, bank := range l.Banks() {
			out = append(out, Place{fmt.Sprintf("Bank %d: cylinders %s", i+1, engine.Listed(bank)), bank[0]})
		}
	default:
		out = []Place{{Name: "Answer"}}
	}
	return out
}

// eachBank are the first cylinders of the banks that the given ones sit in, each once.
func eachBank(l engine.Layout, at []engine.Cylinder) ([]engine.Cylinder, error) {
	var out []engine.Cylinder
	for _, c := range at {
		if c == 0 {
			return nil, errors.New("say at which bank, by any of its cylinders: " + bankExamples(l))
		}
		if first := l.Banks()[l.Bank(c)][0]; !slices.Contains(out, first) {
			out = append(out, first)
		}
	}
	return out, nil
}

func bankExamples(l engine.Layout) string {
	var out []string
	for i, bank := range l.Banks() {
		out = append(out, fmt.Sprintf("%d=… is bank %d", bank[0], i+1))
	}
	return strings.Join(out, ", ")
}

// placeWords names the places of a check's results, sorted: "cylinders 1 and 4", "bank 2".
func placeWords(k *fault.Check, l engine.Layout, at []engine.Cylinder) string {
	if k == nil || !ofBanks(k, l) || len(at) == 0 || at[0] == 0 {
		return engine.Places(at)
	}
	var banks []engine.Cylinder
	for _, c := range at {
		banks = append(banks, engine.Cylinder(l.Bank(c)+1))
	}
	return strings.Replace(engine.Places(slices.Compact(banks)), "cylinder", "bank", 1)
}
