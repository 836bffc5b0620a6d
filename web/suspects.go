package web

import (
	"net/http"
	"slices"
	"strconv"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

func kinds(card *job.Card) []fault.PartKind {
	return fault.KindsOf(card.Opened.Ignition, card.Opened.Injection)
}

func cylinderOf(card *job.Card, text string) (engine.Cylinder, error) {
	n, err := strconv.Atoi(text)
	if err != nil {
		return 0, wrong(http.StatusNotFound, "%q is not a cylinder", text)
	}
	c := engine.Cylinder(n)
	if err := card.Layout().Check(c); err != nil {
		return 0, wrong(http.StatusNotFound, "%v", err)
	}
	return c, nil
}

const (
	mostSuspects = 8
	leastSuspect = 0.005
)

// suspectsAt lists what may be wrong at a cylinder as the parts sit now.
func suspectsAt(card *job.Card, b *belief.Belief, c engine.Cylinder) []belief.Suspect {
	var out []belief.Suspect
	for _, s := range b.Suspects() {
		if len(out) == mostSuspects || s.P < leastSuspect {
			break
		}
		if touches(card, s.Site, c) {
			out = append(out, s)
		}
	}
	return out
}

func touches(card *job.Card, s belief.Site, c engine.Cylinder) bool {
	if s.Part != "" {
		return slices.Contains(card.Seating.Where(s.Kind, s.Part), c)
	}
	return slices.Contains(s.Cylinders, c)
}
