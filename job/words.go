package job

import (
	"fmt"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/reason/fault"
)

// Describe words the results of a check, places with the same result together:
// "cylinder 3: changes nothing; cylinders 1, 2: drops like the others (8.1 bar)".
func (b *Entered) Describe(cat *fault.Catalogue, l engine.Layout) string {
	check, _ := cat.Check(b.Check)
	var groups []string
	places := map[string][]engine.Cylinder{}
	for _, r := range b.Results {
		words := r.words(cat, b.Check)
		if !slices.Contains(groups, words) {
			groups = append(groups, words)
		}
		places[words] = append(places[words], r.Cylinder)
	}
	for i, words := range groups {
		slices.Sort(places[words])
		if at := placeWords(check, l, places[words]); at != "" {
			groups[i] = at + ": " + words
		}
	}
	return strings.Join(groups, "; ")
}

func (r Result) words(cat *fault.Catalogue, check string) string {
	words := r.Outcome
	if k, err := cat.Check(check); err == nil {
		if i, err := k.Outcome(r.Outcome); err == nil {
			words = k.Outcomes[i].Words
		}
	}
	if len(r.Values) == 0 {
		return words
	}
	var values []string
	for _, v := range r.Values {
		values = append(values, strings.TrimSpace(fmt.Sprintf("%g %s", v.Number, strings.TrimPrefix(v.Unit, fault.CountUnit))))
	}
	return fmt.Sprintf("%s (%s)", strings.Join(values, " / "), words)
}
