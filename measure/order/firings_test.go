package order

import (
	"fmt"
	"math"
	"strings"
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
				if strings.Contains(one.Title, whose(true)) {
					named++
					s.checkLabels(t, one, run)
				} else if !strings.Contains(one.Title, whose(false)) || one.Marks[0].Label != "1." {
					t.Errorf("%q says neither", one.Title)
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
