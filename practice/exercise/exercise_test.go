package exercise

import (
	"flag"
	"strings"
	"testing"

	"halforder/engine"
)

var long = flag.Bool("long", false, "play the plans of all complaints")

func layout(t testing.TB, name string) engine.Layout {
	t.Helper()
	l, err := engine.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Every row of the tables names a kind, a repair and checks that exist.
func TestTables(t *testing.T) {
	for _, s := range data().suspects {
		s.at(1)
		if data().repairs[s.kind].action == "" {
			t.Errorf("no repair for %s", s.kind)
		}
		if stories[s.complaint] == "" {
			t.Errorf("no story for complaint %s", s.complaint)
		}
	}
	for _, o := range data().offers {
		if o.PerCylinder && single[o.Name] == nil || !o.PerCylinder && whole[o.Name] == nil {
			t.Errorf("check %s does nothing", o.Name)
		}
	}
	for kind, r := range data().repairs {
		verb, what, _ := strings.Cut(r.action, " ")
		if verb == "mend" && what != kind {
			t.Errorf("%s is mended by %q", kind, r.action)
		}
	}
}

func TestARightNameScores(t *testing.T) {
	x, err := New(3, layout(t, "i3"), "load", false)
	if err != nil {
		t.Fatal(err)
	}
	entry, err := x.Order("codes")
	if err != nil {
		t.Fatal(err)
	}
	t.Log(x.truth(), "|", entry.Answer)
	score, err := x.Name(x.hidden.kind + " " + itoa(int(x.at)))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%+v", score)
	if !score.Right || score.Points < 1 || score.Bill <= 0 {
		t.Errorf("a right name scored %+v", score)
	}
	if _, err := x.Order("codes"); err == nil {
		t.Error("a closed case takes orders")
	}
}

// The best plan is on average no dearer than simple habits: repairing in order
// of chance, and codes first then repairing.
func TestPlanBeatsHabits(t *testing.T) {
	complaints := []string{"load"}
	if *long {
		complaints = Complaints()
	}
	for _, complaint := range complaints {
		x, err := New(5, layout(t, "i4"), complaint, false)
		if err != nil {
			t.Fatal(err)
		}
		p, err := newPlanner(x)
		if err != nil {
			t.Fatal(err)
		}
		all := node{left: 1<<len(p.suspects) - 1}
		best, blind := p.solve(all).cost, p.stop(all.left)
		steps, cost := p.walk()
		t.Logf("%-8s best plan %.0f on average, blind repair %.0f; hidden %s: %v for %.0f", complaint, best, blind, x.truth(), steps, cost)
		if best > blind {
			t.Errorf("%s: best plan %.0f, blind %.0f", complaint, best, blind)
		}
		if byHand, useful := p.after(all, 0); useful && byHand < best-1e-9 {
			t.Errorf("%s: codes first is cheaper (%.1f) than the best plan (%.1f)", complaint, byHand, best)
		}
		if mean := p.meanWalk(); mean > best*1.001+1 || mean < best*0.999-1 {
			t.Errorf("%s: walking the plan costs %.1f on average, the plan says %.1f", complaint, mean, best)
		}
	}
}

// meanWalk walks the plan for every suspect.
func (p *planner) meanWalk() float64 {
	var sum, total float64
	hidden := p.x.hidden
	for _, s := range p.suspects {
		p.x.hidden = s
		_, cost := p.walk()
		sum, total = sum+s.weight*cost, total+s.weight
	}
	p.x.hidden = hidden
	return sum / total
}

func TestOrdersThatCannotBe(t *testing.T) {
	x, err := New(1, layout(t, "i4"), "", false)
	if err != nil {
		t.Fatal(err)
	}
	for _, order := range []string{"", "dance", "plug", "plug 9", "plug x", "codes 3", "renew coil 7", "renew halo 2", "mend coil-open 1", "swap coil 1 1", "swap coil"} {
		if entry, err := x.Order(order); err == nil {
			t.Errorf("order %q was carried out: %+v", order, entry)
		} else if strings.Contains(err.Error(), "\n") {
			t.Errorf("order %q: more than one line: %v", order, err)
		}
	}
	if x.Minutes != 0 || x.Money != 0 {
		t.Errorf("refused orders were charged: %g min, %g", x.Minutes, x.Money)
	}
	for _, name := range []string{"", "gremlin", "coil-open", "coil-open 5", "plenum-leak 2"} {
		if _, err := x.Name(name); err == nil {
			t.Errorf("name %q was taken", name)
		}
	}
	if _, err := New(1, engine.Layout{}, "", false); err == nil {
		t.Error("an exercise without an engine")
	}
	if _, err := New(1, layout(t, "i4"), "sad", false); err == nil {
		t.Error("an unknown complaint was taken")
	}
}
