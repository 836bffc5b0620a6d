package table

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// rows are ten lines of values with a separator, decimals as given.
func rows(sep, point string) string {
	var b strings.Builder
	for i := range 10 {
		fmt.Fprintf(&b, "%s%s%s\n", strings.Replace(fmt.Sprintf("%.1f", float64(i)/2), ".", point, 1), sep, strings.Replace(fmt.Sprintf("-%.2f", float64(i)), ".", point, 1))
	}
	return b.String()
}

func TestLinesBeforeTheTableAreLetGo(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"about the logger":         {"Logger: bench\nRate: 100 Hz\n\ntime_s,v\n" + rows(",", "."), []string{"time_s", "v"}},
		"pairs about the logger":   {"Logger,bench\nRate,100\n\nTime (s),Crank (V),Cam (V)\n" + strings.ReplaceAll(rows(",", "."), "\n", ",1\n"), []string{"Time (s)", "Crank (V)", "Cam (V)"}},
		"units below the names":    {"Time;Crank\n(ms);(V)\n\n" + rows(";", ","), []string{"Time (ms)", "Crank (V)"}},
		"units without brackets":   {"Time,Shake\ns,m/s^2\n" + rows(",", "."), []string{"Time (s)", "Shake (m/s^2)"}},
		"a unit for one only":      {"t\tv\r\n[us]\t\r\n" + rows("\t", "."), []string{"t (us)", "v"}},
		"blanks":                   {"time  v\n" + rows("   ", "."), []string{"time", "v"}},
		"blanks, decimal comma":    {rows(" ", ","), []string{"1", "2"}},
		"blanks after a title":     {"Measured in the yard on a wet day\ntime v\n" + rows(" ", "."), []string{"time", "v"}},
		"a title, and no names":    {"Shake\n" + rows(";", ","), []string{"1", "2"}},
		"channels named by number": {"note\nTime,1\n" + rows(",", "."), []string{"Time", "1"}},
	} {
		tb, err := Read(strings.NewReader(c.text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !slices.Equal(tb.Names(), c.want) || tb.Rows != 10 || tb.Skipped != 0 || tb.Columns[0].Numbers[3] != 1.5 || tb.Columns[1].Numbers[9] != -9 {
			t.Errorf("%s: columns %q, %d rows, %d skipped", name, tb.Names(), tb.Rows, tb.Skipped)
		}
	}
}

func TestUnitsBelowTheNamesScaleTheTimes(t *testing.T) {
	tb, err := Read(strings.NewReader("Time,Crank\n(ms),(V)\n" + rows(",", ".")))
	if err != nil {
		t.Fatal(err)
	}
	c, err := tb.TimeColumn()
	if err != nil || c.Unit != "ms" {
		t.Fatalf("time column %q in %q, %v", c.Name, c.Unit, err)
	}
	if times, err := c.Times(""); err != nil || times[2] != 0.001 {
		t.Errorf("times %v, %v", times, err)
	}
}

// A table longer than what is looked at, and one that is no table, read as ever.
func TestTheOpeningDoesNotChangeTheRest(t *testing.T) {
	long := "about\ntime,v\n" + strings.Repeat("1,2\n", openingBytes)
	tb, err := Read(strings.NewReader(long))
	if err != nil || tb.Rows != openingBytes || tb.Skipped != 0 {
		t.Errorf("%v", err)
	}
	for _, text := range []string{"Dear sir, the car is ready\nand so are we\n", "a,b\n1,2,5\n3,4,6\n5,6,7\n"} {
		if tb, err := Read(strings.NewReader(text)); err == nil && tb.Columns[0].Numbers != nil {
			t.Errorf("%q was read as %q", text, tb.Names())
		}
	}
}
