package table

import (
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestReadNamesUnitsAndNumbers(t *testing.T) {
	tb, err := Read(strings.NewReader("t_us,crank_ref_id\n65674,0\n96532,1\n"))
	if err != nil {
		t.Fatal(err)
	}
	c, err := tb.TimeColumn()
	if err != nil || c.Name != "t_us" || c.Unit != "us" {
		t.Fatalf("time column %v, %v", c, err)
	}
	times, err := c.Times("")
	if err != nil || times[0] < 0.065673 || times[0] > 0.065675 {
		t.Errorf("times %v, %v", times, err)
	}
	id, _ := tb.Column("crank_ref_id")
	if labels, ok := id.Labels(); !ok || !slices.Equal(labels, []int{0, 1}) {
		t.Errorf("labels %v", labels)
	}
}

func TestReadDecimalCommaAndNoHeader(t *testing.T) {
	tb, err := Read(strings.NewReader("0,5;1\n0,75;2\n1,0;x\n"))
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"1", "2"}, tb.Names()); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]float64{0.5, 0.75, 1}, tb.Columns[0].Numbers); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"1", "2", "x"}, tb.Columns[1].Text); d != "" {
		t.Error(d)
	}
}

func TestSeparatorAtTheEndIsNoColumn(t *testing.T) {
	for _, text := range []string{"a,b\n1,2,\n3,4,\n", "a,b,\n1,2,\n3,4,\n", "a,b,\n1,2\n3,4\n", "a;b;\r\n1;2;\r\n3;4;\r\n", "a\tb\t\r\n1\t2\t\r\n3\t4\t\r\n", "a\tb\n1\t2\t\n3\t4\n"} {
		tb, err := Read(strings.NewReader(text))
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		if !slices.Equal(tb.Names(), []string{"a", "b"}) || tb.Rows != 2 || tb.Skipped != 0 || tb.Columns[1].Numbers[1] != 4 {
			t.Errorf("%q: columns %q, %d rows, %d skipped", text, tb.Names(), tb.Rows, tb.Skipped)
		}
	}
	tb, err := Read(strings.NewReader("1,2,\n3,4,\n"))
	if err != nil || !slices.Equal(tb.Names(), []string{"1", "2"}) {
		t.Errorf("without names: %v", err)
	}
	tb, err = Read(strings.NewReader("a,\n1,2\n3,4\n"))
	if err != nil || len(tb.Columns) != 2 || tb.Columns[1].Numbers[0] != 2 {
		t.Errorf("a column without a name but with values was let go: %v", err)
	}
	if _, err := Read(strings.NewReader("a,b\n1,2,5\n3,4,6\n5,6,7\n")); err == nil {
		t.Error("a third column that the first line does not have was let go")
	}
}

func TestReadRealVehicleLogs(t *testing.T) {
	for _, name := range []string{"healthy_idle_1.csv", "healthy_drive_1.csv"} {
		f, err := os.Open("../../../shared/data/vehicle_log/" + name)
		if err != nil {
			t.Skip("no shared data here")
		}
		defer f.Close()
		tb, err := Read(f)
		if err != nil {
			t.Fatal(name, err)
		}
		if len(tb.Columns) != 27 || tb.Rows < 100 || tb.Columns[1].Numbers == nil { // 27 values (SOURCES.md)
			t.Errorf("%s: %d columns, %d rows", name, len(tb.Columns), tb.Rows)
		}
	}
}

func TestEventsCutAtEqualSign(t *testing.T) {
	tb, err := Read(strings.NewReader("t_s,event\n10,spark\n30,dwell=7\n20,spark\n"))
	if err != nil {
		t.Fatal(err)
	}
	times, _ := tb.Columns[0].Times("")
	want := map[string][]float64{"spark": {10, 20}, "dwell": {30}}
	if d := cmp.Diff(want, tb.Columns[1].Events(times)); d != "" {
		t.Error(d)
	}
}

func TestUnitOf(t *testing.T) {
	for name, want := range map[string]string{"t_us": "us", "time (ms)": "ms", "speed [rpm]": "rpm", "coils": "", "s": "", "Time_s": "s",
		"crank.V": "V", "class": "", "zeit [µs]": "us"} {
		if got := UnitOf(name); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

func TestReadRefuses(t *testing.T) {
	for _, text := range []string{"", "a,b\n", "1,2\n3\n4\n5,6\n", strings.Repeat("x,", 300) + "x\n"} {
		if tb, err := Read(strings.NewReader(text)); err == nil {
			t.Errorf("%.20q: read as %v", text, tb.Names())
		}
	}
	tb, err := Read(strings.NewReader("a,b\n1,x\n"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tb.Column("c"); err == nil || !strings.Contains(err.Error(), "a, b") {
		t.Errorf("a missing column must name those there: %v", err)
	}
	if _, err := tb.Columns[0].Times("rpm"); err == nil {
		t.Error("rpm was taken for a unit of time")
	}
}

func TestReadRealLogs(t *testing.T) {
	f, err := os.Open("../../../shared/data/crank_log/v_twin_spark_injector_60s.csv")
	if err != nil {
		t.Skip("no shared data here")
	}
	defer f.Close()
	tb, err := Read(f)
	if err != nil {
		t.Fatal(err)
	}
	times, err := tb.Columns[0].Times("")
	if err != nil {
		t.Fatal(err)
	}
	// Counted with grep.
	if n := len(tb.Columns[1].Events(times)["front_injector_on"]); n != 1009 {
		t.Errorf("front_injector_on %d times, want 1009", n)
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{"t_us,x\n1,2\n", "0,5;1\n", "a\tb\n1\t2,5", "\"a\",b\n1,\"x\"", ",,\n,,\n", "\xef\xbb\xbft,v\n1,2", "a,b,\n1,2,\n3,4\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		tb, err := Read(strings.NewReader(string(data)))
		if err != nil {
			return
		}
		for _, c := range tb.Columns {
			if c.Numbers == nil && len(c.Text) != tb.Rows || c.Numbers != nil && len(c.Numbers) != tb.Rows {
				t.Errorf("column %q of %d rows: %d numbers, %d texts", c.Name, tb.Rows, len(c.Numbers), len(c.Text))
			}
			times, _ := c.Times("")
			c.Events(times)
			c.Labels()
		}
	})
}

// The bytes of a binary file must not come back in a message.
func TestBinaryFileIsRefusedInWords(t *testing.T) {
	for _, text := range []string{"RIFF\x24\x00\x00\x00WAVEfmt \x10\x00,1\n2,3\n", "t\x00,\x00v\x00\n\x001\x00"} {
		_, err := Read(strings.NewReader(text))
		if err == nil || !strings.Contains(err.Error(), "binary file") || strings.ContainsRune(err.Error(), 0) {
			t.Errorf("%q: %v", text, err)
		}
	}
}
