package edges

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestReadSortsChannelsApart(t *testing.T) {
	log, err := Read(strings.NewReader("# logger 7\n1.5 c\n1.25,m\n\n c;2.5\n1.75\tc\n"), 1)
	if err != nil {
		t.Fatal(err)
	}
	want := []Channel{{"c", []float64{1.5, 1.75, 2.5}}, {"m", []float64{1.25}}}
	if d := cmp.Diff(want, log.Channels); d != "" {
		t.Error(d)
	}
}

func TestReadTicksAndNamelessChannel(t *testing.T) {
	log, err := Read(strings.NewReader("100\n300\n200\n"), 1e-6)
	if err != nil {
		t.Fatal(err)
	}
	times, ok := log.Channel("")
	if !ok || len(times) != 3 || math.Abs(times[2]-3e-4) > 1e-15 || !slices.IsSorted(times) {
		t.Errorf("got %v", times)
	}
}

func TestReadRefusesWithALineAndAnExample(t *testing.T) {
	for _, text := range []string{"", "hello\nworld\n", "1 c\nx y z\nu v w\n", "NaN c\nInf m\n"} {
		if log, err := Read(strings.NewReader(text), 1); err == nil {
			t.Errorf("%q: read as %v", text, log)
		}
	}
	if _, err := Read(strings.NewReader("1 c"), math.NaN()); err == nil {
		t.Error("a tick of NaN was accepted")
	}
}

func TestReadSeparatorAtTheEnd(t *testing.T) {
	log, err := Read(strings.NewReader("1,c,\n2,c,\n3;m;\n"), 1)
	if err != nil {
		t.Fatal(err)
	}
	if c, _ := log.Channel("c"); len(c) != 2 || log.Skipped != 0 {
		t.Errorf("channel c %v, %d skipped", c, log.Skipped)
	}
}

func TestReadCountsOnWhereACounterBeginsAnew(t *testing.T) {
	var b strings.Builder
	var c, m []float64
	for i := range 5000 {
		at := 60000 + 700*i
		name := "c"
		if i%31 == 7 {
			name = "m"
			m = append(m, float64(at)*4e-6)
		} else {
			c = append(c, float64(at)*4e-6)
		}
		fmt.Fprintf(&b, "%d %s\n", at%65536, name)
	}
	log, err := Read(strings.NewReader(b.String()), 4e-6)
	if err != nil {
		t.Fatal(err)
	}
	near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })
	if d := cmp.Diff([]Channel{{"c", c}, {"m", m}}, log.Channels, near); d != "" {
		t.Error(d)
	}
}

func TestChannelsListedOneAfterTheOtherAreNoCounter(t *testing.T) {
	for _, text := range []string{"0 c\n40000 c\n60000 c\n0 m\n30000 m\n60000 m\n", "90000 c\n10 c\n20 c\n", "0.5 c\n60000.5 c\n0.7 c\n"} {
		log, err := Read(strings.NewReader(text), 1)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range log.Channels {
			if last := c.Times[len(c.Times)-1]; last > 90000 {
				t.Errorf("%q: counted on to %g", text, last)
			}
		}
	}
}

func TestReadForgivesACutLastLine(t *testing.T) {
	log, err := Read(strings.NewReader("1 c\n2 c\n3 c\n4."), 1)
	if err != nil {
		t.Fatal(err)
	}
	if log, err = Read(strings.NewReader("1 c\n2 c\n3 c\nxx yy zz"), 1); err != nil || log.Skipped != 1 {
		t.Errorf("skipped %v, error %v", log, err)
	}
}

func TestReadRealLogs(t *testing.T) {
	paths, _ := filepath.Glob("../../../shared/data/crank_log/*.txt")
	if len(paths) == 0 {
		t.Skip("no shared data here")
	}
	for _, path := range paths {
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		log, err := Read(f, 1)
		f.Close()
		if err != nil || len(log.Channels) != 2 || log.Channels[0].Name != "c" || log.Channels[1].Name != "m" || log.Skipped != 0 {
			t.Errorf("%s: %v, %v", filepath.Base(path), log, err)
		}
	}
}

// Files as loggers and offices leave them: two recordings in one, decimal commas,
// text in UTF-16.
func TestReadFilesAsTheyCome(t *testing.T) {
	list := func(from float64, format string) (text string) {
		for i := range 60 {
			text += fmt.Sprintf(format, from+float64(i)/10)
		}
		return text
	}
	for _, c := range []struct{ text, fails string }{
		{list(5, "%.3f c\n") + list(5.1, "%.3f m\n"), ""},
		{list(5, "%.3f c\n") + list(2, "%.3f c\n"), "go back from 10.9 to 2 s at its edge 61"},
		{strings.ReplaceAll(list(5, "%.3f c\n"), ".", ","), ""},
		{strings.ReplaceAll(list(5, "c;%.3f\n"), ".", ","), ""},
		{"\xff\xfe1\x00\n\x002\x00\n\x00", "UTF-16"},
	} {
		log, err := Read(strings.NewReader(c.text), 1)
		switch {
		case c.fails == "" && err != nil:
			t.Errorf("%.20q…: %v", c.text, err)
		case c.fails == "" && (log.Channels[0].Name != "c" || len(log.Channels[0].Times) != 60 || log.Channels[0].Times[59] != 10.9):
			t.Errorf("%.20q…: %v", c.text, log.Channels)
		case c.fails != "" && (err == nil || !strings.Contains(err.Error(), c.fails)):
			t.Errorf("%.20q…: error %v, want %q", c.text, err, c.fails)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{"1.5 c\n2 m\n", "c 1", "1;c", "#", "9e999 c", "- -", "1 c d"} {
		f.Add([]byte(s), 1e-6)
	}
	f.Fuzz(func(t *testing.T, data []byte, tick float64) {
		log, err := Read(strings.NewReader(string(data)), tick)
		if err != nil {
			return
		}
		for _, c := range log.Channels {
			if len(c.Times) == 0 || !slices.IsSorted(c.Times) || slices.ContainsFunc(c.Times, math.IsNaN) {
				t.Errorf("channel %q: %v", c.Name, c.Times)
			}
		}
	})
}
