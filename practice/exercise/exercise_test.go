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

// The best plan is on average no dearer than simple habits: repairing in order
// of chance, and codes first; and a right name scores against it.
func TestPlanBeatsHabitsAndScores(t *testing.T) {
	complaints := []string{"load"}
	if *long {
		complaints = Complaints()
	}
	for _, complaint := range complaints {
		x, err := New(3, layout(t, "i3"), complaint, false)
		if err != nil {
			t.Fatal(err)
		}
		p, err := x.plan()
		if err != nil {
			t.Fatal(err)
		}
		p.beatsHabits(t)
		scores(t, x)
	}
}

func (p *planner) beatsHabits(t *testing.T) {
	t.Helper()
	all := p.start()
	best, blind := p.solve(all).cost, p.stop(all)
	steps, cost := p.walk()
	t.Logf("%-8s best plan %.0f on average, blind repair %.0f; hidden %s: %v for %.0f", p.x.Complaint, best, blind, p.x.truth(), steps, cost)
	if best > blind {
		t.Errorf("best plan %.0f, blind %.0f", best, blind)
	}
	if byHand, useful := p.after(all, 0); useful && byHand < best-1e-9 {
		t.Errorf("codes first is cheaper (%.1f) than the best plan (%.1f)", byHand, best)
	}
	if mean := p.meanWalk(); mean > best*1.001+1 || mean < best*0.999-1 {
		t.Errorf("walking the plan costs %.1f on average, the plan says %.1f", mean, best)
	}
}

func scores(t *testing.T, x *Exercise) {
	t.Helper()
	if _, err := x.Order("codes"); err != nil {
		t.Fatal(err)
	}
	name := x.hidden.kind
	if x.hidden.at(1).Cylinder > 0 {
		name += " " + itoa(int(x.at))
	}
	score, err := x.Name(name)
	if err != nil {
		t.Fatal(err)
	}
	if !score.Right || score.Points < 1 || score.Points > 100 || score.Bill <= 0 {
		t.Errorf("the right name %q scored %+v", name, score)
	}
	if _, err := x.Order("codes"); err == nil {
		t.Error("a closed case takes orders")
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

// Relative compression finds a leaking cylinder by starter current alone (trade
// practice: 180 A peaks, a weak cylinder 130 A), and accuses nobody when all
// are tight.
func TestStarterCurrentNamesALeak(t *testing.T) {
	for _, name := range []string{"i3", "i4", "v6-142536"} {
		for c := range layout(t, name).N() {
			at := engine.Cylinder(c + 1)
			b, err := newBay(4, layout(t, name), suspect{kind: "exhaust-valve-leak", severity: 0.8}, at)
			if err != nil {
				t.Fatal(err)
			}
			if r := b.starter(); r.outcome != "low "+itoa(c+1) {
				t.Errorf("%s, leak at %d: %s (%s)", name, at, r.outcome, r.text)
			}
		}
		b, err := newBay(4, layout(t, name), suspect{kind: "plenum-leak"}, 1)
		if err != nil {
			t.Fatal(err)
		}
		if r := b.starter(); r.outcome != "low none" {
			t.Errorf("%s, all tight: %s", name, r.text)
		}
	}
}

// A fault that shows under load only is quiet at idle and seen on the road.
func TestRoadShowsWhatIdleHides(t *testing.T) {
	for seed := uint64(1); seed <= 3; seed++ {
		x, err := New(seed, layout(t, "i4"), "load", false)
		if err != nil {
			t.Fatal(err)
		}
		for line, want := range map[string]bool{"codes": false, "road": true} {
			entry, err := x.Order(line)
			if err != nil {
				t.Fatal(err)
			}
			_, counts, _ := strings.Cut(entry.Answer, "by cylinder: ")
			if seen := strings.ContainsAny(strings.NewReplacer("1: ", "", "2: ", "", "3: ", "", "4: ", "").Replace(counts), "123456789"); seen != want {
				t.Errorf("seed %d, %s: %s", seed, line, entry.Answer)
			}
		}
	}
}

// A miss is followed to where it is loudest; the few that the counters put at a
// neighbour are no miss to follow. Limits are judgement.
func TestFateOfAMiss(t *testing.T) {
	for _, x := range []struct {
		before, loudest, after, mate float64
		want                         string
	}{
		{1, 1, 0.1, 0.99, "it followed the part"}, {1, 1, 1, 0.41, "it stayed"}, {1, 1, 0, 0.02, "it vanished"}, {1, 1, 1, 0.9, "both miss"},
		{0.12, 0.71, 0.02, 0.13, "no miss to follow"}, {0.05, 0.05, 0.5, 0, "no miss to follow"}, {0.2, 0.2, 0.02, 0.18, "it followed the part"},
	} {
		if got := fate(x.before, x.loudest, x.after, x.mate); got != x.want {
			t.Errorf("%+v: %s", x, got)
		}
	}
}

// Under a plenum only the first thing pays for taking it off; driving puts it back on.
// Minutes as in checks.csv and repairs.csv.
func TestCoverIsPaidOnce(t *testing.T) {
	x, err := New(1, layout(t, "i4"), "dead", true)
	if err != nil {
		t.Fatal(err)
	}
	for _, step := range []struct {
		line    string
		minutes float64
	}{{"codes", 5}, {"pulse 1", 20}, {"spark 1", 60}, {"plug 1", 12}, {"spark 2", 7}, {"renew coil 1", 20}, {"road", 20}, {"feed 3", 50}} {
		entry, err := x.Order(step.line)
		if err != nil {
			t.Fatal(err)
		}
		if entry.Minutes != step.minutes {
			t.Errorf("%s takes %.0f min, want %.0f", step.line, entry.Minutes, step.minutes)
		}
	}
}
