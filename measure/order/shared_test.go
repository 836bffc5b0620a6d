package order

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/finding"
	"halforder/reader/wav"
	"halforder/signal"
)

// sharedFolder finds real recordings beside the repository, or skips.
func sharedFolder(t *testing.T, name string) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for ; ; dir = filepath.Dir(dir) {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			break
		}
		if dir == filepath.Dir(dir) {
			t.Fatal("no go.mod above the test")
		}
	}
	folder := filepath.Join(dir, "..", "shared", "data", name)
	if _, err := os.Stat(folder); err != nil {
		t.Skipf("skipped: no shared/data/%s beside the repository", name)
	}
	return folder
}

func readFile(t *testing.T, path string) ([]float32, float64) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	x, format, err := wav.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	return x, format.Rate
}

func parse(t testing.TB, name string) engine.Layout {
	t.Helper()
	l, err := engine.Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// The states of the real idle recordings stand in their names; car01 has four
// cylinders, car03 three. Whole files and pieces of 10 s.
func TestRealIdleTellsHealthyFromOneCoilOff(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(sharedFolder(t, "idle_sound"), "*.wav"))
	if len(files) == 0 {
		t.Skip("skipped: no idle recordings")
	}
	for _, file := range files {
		name := filepath.Base(file)
		layout := parse(t, map[bool]string{true: "i3", false: "i4"}[strings.HasPrefix(name, "car03")])
		want := finding.Misfire
		if strings.Contains(name, "healthy") {
			want = finding.NoMisfire
		}
		x, rate := readFile(t, file)
		checkVerdict(t, name, x, rate, layout, want)
		for from := 0.0; from <= 10; from += 5 {
			checkVerdict(t, name+" from "+strconv.Itoa(int(from)), x[int(from*rate):int((from+10)*rate)], rate, layout, want)
		}
	}
}

func checkVerdict(t *testing.T, name string, x []float32, rate float64, layout engine.Layout, want finding.Verdict) {
	t.Helper()
	f, err := Analyse(signal.FromMemory(x), rate, Config{Layout: layout})
	if err != nil {
		t.Errorf("%s: %v", name, err)
	} else if f.Verdict != want {
		t.Errorf("%s: %s", name, f.Sentence)
	}
}

// Nominal speeds stand in the names; none of these engines misfires.
func TestRealSpeedsWithinOnePercentAndNobodyAccused(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(sharedFolder(t, "speed_sound"), "*.wav"))
	nominal := regexp.MustCompile(`(\d+)rpm`)
	for _, file := range files {
		want, err := strconv.ParseFloat(nominal.FindStringSubmatch(file)[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		x, rate := readFile(t, file)
		f, err := Analyse(signal.FromMemory(x), rate, Config{Layout: parse(t, "i4")})
		if err != nil {
			t.Errorf("%s: %v", filepath.Base(file), err)
			continue
		}
		if q, _ := f.Quantity(SpeedQuantity); math.Abs(q.Value/want-1) > 0.01 {
			t.Errorf("%s: %.0f rpm", filepath.Base(file), q.Value)
		}
		if f.Verdict == finding.Misfire {
			t.Errorf("%s: %s", filepath.Base(file), f.Sentence)
		}
	}
}

// A header that lies by a factor gives a speed no engine idles at, and the hint.
func TestLyingHeaderIsCalledOut(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(sharedFolder(t, "idle_sound"), "*healthy_a.wav"))
	for _, file := range files {
		x, rate := readFile(t, file)
		layout := parse(t, map[bool]string{true: "i3", false: "i4"}[strings.Contains(file, "car03")])
		f, err := Analyse(signal.FromMemory(x), 3*rate, Config{Layout: layout})
		if err != nil {
			t.Errorf("%s: %v", filepath.Base(file), err)
			continue
		}
		if !strings.Contains(strings.Join(f.Notes, "\n"), "--rate") {
			t.Errorf("%s at three times its rate: no hint in %q, %s", filepath.Base(file), f.Notes, f.Sentence)
		}
	}
}
