package order

import (
	"fmt"
	"math"
	"testing"

	"halforder/finding"
)

// The plot of one cycle names each firing by the cylinder that fires there, by a
// cut or by a mark, and says so; without them it says that nobody knows.
func TestPlotNamesTheFirings(t *testing.T) {
	four, three := []float64{1, 1, 1, 1}, []float64{1, 0, 1, 1}
	for _, c := range []struct {
		name string
		work []float64
		cut  int // position, −1 for none
		mark int
		all  bool // that the bass has names, too
	}{
		{"healthy, cut", four, 2, -1, false},
		{"one dead, another cut", three, 3, -1, true},
		{"the dead one cut", three, 1, -1, true},
		{"one dead, mark", three, -1, 2, true},
		{"healthy, mark", four, -1, 0, false},
		{"neither", three, -1, -1, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := broken(t)
			s.rpm, s.seconds, s.work, s.spread = 720, 20, c.work, 0.05
			config := Config{Layout: s.layout}
			if c.cut >= 0 {
				s.miss = func(cycle, position int) bool { return position == c.cut && cycle >= 72 && cycle < 108 } // 12 s to 18 s
				config.Cuts = []Cut{{s.layout.At(c.cut), 12, 18}}
			}
			if c.mark >= 0 {
				config.Marked = s.layout.At(c.mark)
			}
			l, err := NewListener(config, s.rate)
			if err != nil {
				t.Fatal(err)
			}
			l.Write(s.sound())
			for at := 0.05; c.mark >= 0 && at < s.seconds; at += 120 / s.rpm {
				l.AddMarks([]float64{at + 120/s.rpm*(float64(s.layout.Angles()[c.mark])-20)/720})
			}
			f, err := l.Finish()
			if err != nil {
				t.Fatal(err)
			}
			run := l.heard.drawn(f.Likelihood, l.heard.last()).run.cycles
			named := 0
			for _, one := range f.Series {
				if one.XUnit != "°" {
					continue
				}
				if one.Note == whose(true) {
					named++
					s.checkLabels(t, one, run)
				} else if one.Note != whose(false) || one.Marks[0].Label != "1." {
					t.Errorf("%s: note %q", one.Title, one.Note)
				}
			}
			want := 0
			if c.cut >= 0 || c.mark >= 0 {
				want = 1
			}
			if c.all {
				want = 2
			}
			if named != want {
				t.Errorf("%d plots with names, want %d: %s %q", named, want, f.Sentence, f.Notes)
			}
		})
	}
}

// checkLabels looks up which cylinder fires behind each mark.
func (s synth) checkLabels(t *testing.T, one finding.Series, run []cycle) {
	t.Helper()
	for _, m := range one.Marks {
		for _, c := range run[len(run)/2:][:3] {
			at := c.start + c.late*c.seconds + m.X/720*c.seconds // s
			cycles := (at - 0.05) / (120 / s.rpm)
			phase := cycles - math.Floor(cycles)
			next := int(math.Ceil(phase*float64(s.layout.N())-0.15)) % s.layout.N()
			if want := fmt.Sprintf("cyl %d", s.layout.At(next)); m.Label != want {
				t.Errorf("%s: %q at %.0f°, where %s fires", one.Title, m.Label, m.X, want)
			}
		}
	}
}

// Whichever cylinder is cut, each shakes at the same place of the crank: what is
// drawn is that of the cylinder, not of the cut. Without a cut nobody has a place.
func TestPlotPlacesTheShaking(t *testing.T) {
	placed := 0
	for seed := range uint64(4) {
		m := anyMounted(parse(t, "i4"), 200, 30+seed)
		m.seconds, m.wander = 22, 0
		var places []float64 // of the first cylinder, in firings of the crank
		for _, cut := range []int{-1, 0, 1, 3} {
			var cuts []Cut
			m.off = nil
			if cut >= 0 {
				cuts = []Cut{{m.layout.At(cut), 12, 18}}
				m.off = func(s float64, k int) bool { return k == cut && s > 12 && s < 18 }
			}
			one, zero := feltPlot(t, m, cuts)
			if one.Note == whoShakes(false) && len(one.Marks) == 0 {
				continue
			}
			if one.Note != whoShakes(true) || cut < 0 {
				t.Fatalf("seed %d, cut %d: note %q, marks %v", seed, cut, one.Note, one.Marks)
			}
			for _, mark := range one.Marks {
				if mark.Label == "cyl 1" {
					places = append(places, 4*(mark.X/720+m.rpm/120*zero))
				}
			}
		}
		for _, p := range places {
			if off := 4 * wrapHalf((p-places[0])/4); math.Abs(off) > 0.4 {
				t.Errorf("seed %d: cylinder 1 shakes %.2f firings elsewhere with another cut", seed, off)
			}
		}
		placed += len(places)
	}
	if placed < 6 {
		t.Errorf("%d of 12 cuts gave places", placed)
	}
}

// feltPlot is the cycle drawn, and when its zero was.
func feltPlot(t *testing.T, m mounted, cuts []Cut) (finding.Series, float64) {
	t.Helper()
	x, err := newMotion(m.shakes())
	if err != nil {
		t.Fatal(err)
	}
	config := Config{Layout: m.layout, Cuts: cuts}
	best, _ := x.likeliest(courseOf(x, config), config)
	h := x.heard(best, config)
	f, err := h.feltReport()
	if err != nil {
		t.Fatal(err)
	}
	run := h.cycles
	if before, _, _ := h.feltMarks(f.Likelihood); before != nil {
		run = before
	}
	c := run[len(run)/2]
	for _, s := range f.Series {
		if s.XUnit == "°" {
			return s, c.start + c.late/c.hz
		}
	}
	t.Fatal("no cycle drawn")
	return finding.Series{}, 0
}
