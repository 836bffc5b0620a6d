package main

import (
	"slices"
	"testing"

	"halforder/engine"
	"halforder/practice"
	"halforder/practice/exercise"
	"halforder/reason/fault"
)

func catalogue(t *testing.T) *fault.Catalogue {
	t.Helper()
	cat, err := fault.Default()
	if err != nil {
		t.Fatal(err)
	}
	return cat
}

func four(t *testing.T) engine.Layout {
	t.Helper()
	l, err := engine.Parse("i4")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Every errand answers a check of the catalogue by something on the practice menu, and
// every repair is one of both.
func TestErrandsExist(t *testing.T) {
	cat := catalogue(t)
	x, err := exercise.New(1, four(t), "dead", false)
	if err != nil {
		t.Fatal(err)
	}
	for code, e := range errands {
		if _, err := cat.Check(code); err != nil {
			t.Error(err)
		}
		onMenu := slices.ContainsFunc(x.Menu(), func(o exercise.Offer) bool { return o.Name == e.menu && o.PerCylinder == e.single })
		if !onMenu && e.menu != "record" {
			t.Errorf("%s: %q is not on the menu", code, e.menu)
		}
	}
	for repair, kinds := range mends {
		if _, err := cat.Repair(repair); err != nil {
			t.Error(err)
		}
		for _, kind := range kinds {
			if !slices.ContainsFunc(practice.Kinds(), func(k practice.Kind) bool { return k.Name == kind }) {
				t.Errorf("%s: practice knows no %s", repair, kind)
			}
		}
	}
}

// A day from complaint to proof on one car of each complaint: what was wrong is mended,
// and no good part is renewed.
func TestWorkingDays(t *testing.T) {
	cat := catalogue(t)
	for _, c := range []struct {
		complaint string
		seed      uint64
	}{{"dead", 101}, {"flicker", 105}, {"load", 2}, {"rough", 5}} {
		x, err := exercise.New(c.seed, four(t), c.complaint, false)
		if err != nil {
			t.Fatal(err)
		}
		d := work(cat, x, false)
		if d.err != nil || !d.mended || d.ended != proven || len(d.needless) > 0 || len(d.accused) > 0 {
			t.Errorf("%s %d: %s", c.complaint, c.seed, d)
		}
	}
}
