package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
	"halforder/reader/wav"
	"halforder/signal"
)

// sweepShared judges the real recordings by what their names say: the state of
// the idle ones, the speed of the others, none of which misfires.
func sweepShared(folder string, t *table) error {
	if _, err := os.Stat(folder); err != nil {
		fmt.Fprintln(os.Stderr, "hearing: no real recordings at", folder)
		return nil
	}
	idle, _ := filepath.Glob(filepath.Join(folder, "idle_sound", "*.wav"))
	for _, file := range idle {
		if err := sweepIdle(file, t); err != nil {
			return err
		}
	}
	speed, _ := filepath.Glob(filepath.Join(folder, "speed_sound", "*.wav"))
	for _, file := range speed {
		if err := sweepSpeed(file, t); err != nil {
			return err
		}
	}
	return nil
}

// idleFile is a real idle recording and what its name says of the engine.
type idleFile struct {
	x      []float32
	rate   float64
	layout engine.Layout
	state  string
	want   finding.Verdict
}

func loadIdle(file string) (idleFile, error) {
	x, rate, err := load(file)
	if err != nil {
		return idleFile{}, err
	}
	name := "i4"
	if strings.HasPrefix(filepath.Base(file), "car03") {
		name = "i3"
	}
	layout, err := engine.Parse(name)
	f := idleFile{x, rate, layout, "one coil off", finding.Misfire}
	if strings.Contains(file, "healthy") {
		f.state, f.want = "healthy", finding.NoMisfire
	}
	return f, err
}

func sweepIdle(file string, t *table) error {
	idle, err := loadIdle(file)
	if err != nil {
		return err
	}
	x, rate, layout, want, row := idle.x, idle.rate, idle.layout, idle.want, "real idle, "+idle.state
	f, err := order.Analyse(signal.FromMemory(x), rate, order.Config{Layout: layout})
	t.at(row+", whole").judge(f, err, want)
	piece := int(10 * rate)
	for from := 0; from+piece <= len(x); from += piece / 4 {
		f, err := order.Analyse(signal.FromMemory(x[from:from+piece]), rate, order.Config{Layout: layout})
		t.at(row+", 10 s").judge(f, err, want)
	}
	return nil
}

var nominal = regexp.MustCompile(`(\d+)rpm`)

func sweepSpeed(file string, t *table) error {
	x, rate, err := load(file)
	if err != nil {
		return err
	}
	layout, err := engine.Parse("i4")
	if err != nil {
		return err
	}
	want, err := strconv.ParseFloat(nominal.FindStringSubmatch(file)[1], 64)
	if err != nil {
		return err
	}
	f, err := order.Analyse(signal.FromMemory(x), rate, order.Config{Layout: layout})
	t.at("real held speed, 1 s").judge(f, err, finding.NoMisfire)
	q, _ := f.Quantity(order.SpeedQuantity)
	cell := t.at("its speed within 1 %")
	if math.Abs(q.Value/want-1) <= 0.01 {
		cell.right++
	} else {
		cell.wrong++
	}
	return nil
}

func load(file string) ([]float32, float64, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, 0, err
	}
	defer f.Close()
	x, format, err := wav.ReadAll(f)
	return x, format.Rate, err
}
