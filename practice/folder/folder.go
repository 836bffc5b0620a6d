package folder

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"

	"halforder/practice"
)

// About is one file of the folder.
type About struct {
	File      string  `json:"file"`
	Sensor    string  `json:"sensor"`
	Unit      string  `json:"unit,omitempty"`
	Hz        float64 `json:"rate_hz,omitempty"`
	FullScale float64 `json:"full_scale,omitempty"` // value of the largest sample, in Unit
	StartSec  float64 `json:"start_s"`
	Note      string  `json:"note,omitempty"`
}

// List is the content of recordings.json. It says nothing of the fault.
type List struct {
	Engine  string  `json:"engine"`
	Seconds float64 `json:"seconds"`
	Files   []About `json:"files"`
}

// Write makes the folder dir and writes the recording into it. It refuses a
// folder that holds files already.
func Write(dir string, cfg practice.Config, rec practice.Recording) (List, error) {
	list := List{Engine: cfg.Layout.String(), Seconds: trim(rec.End-rec.Start, 1e-3)}
	if err := Free(dir); err != nil {
		return list, err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return list, err
	}
	w := writer{dir: dir, cfg: cfg, list: &list}
	w.traces(rec)
	w.tables(rec)
	if w.err == nil {
		w.json("recordings.json", list)
	}
	return list, w.err
}

// Free says so when a folder holds files already.
func Free(dir string) error {
	if old, err := os.ReadDir(dir); err == nil && len(old) > 0 {
		return fmt.Errorf("practice folder %s holds files already: name a new one", dir)
	}
	return nil
}

type writer struct {
	dir  string
	cfg  practice.Config
	list *List
	err  error
}

func (w *writer) traces(rec practice.Recording) {
	w.wav("sound.wav", "microphone", rec.Sound, 1)
	w.wav("crank_trace.wav", "crank sensor, analogue", rec.CrankTrace, 40)
	w.wav("coil_current.wav", "current clamp on the coil feeds", rec.CoilAmps, 40)
	w.wav("coil_voltage.wav", "primary voltage of the first clamped coil", rec.CoilVolts, 600)
	w.wav("pressure.wav", "pressure transducer in a cylinder", rec.Pressure, 120)
}

func (w *writer) tables(rec practice.Recording) {
	w.edges("crank_edges.csv", "crank wheel edges", crankNote(w.cfg), rec.Crank)
	w.edges("cam_edges.csv", "cam edges", camNote(w.cfg), rec.Cam)
	w.csv("phone.csv", "phone acceleration", "m/s²", "time_s,x,y,z", len(rec.Phone), func(b []byte, i int) []byte {
		s := rec.Phone[i]
		return row(b, s.T, 4, s.X, 3, s.Y, 3, s.Z, 3)
	})
	w.csv("starter.csv", "battery lead", "A, V", "time_s,amps,volts", len(rec.StarterAmps.X), func(b []byte, i int) []byte {
		return row(b, rec.StarterAmps.At(i), 5, float64(rec.StarterAmps.X[i]), 1, float64(rec.Battery.X[i]), 3)
	})
	w.csv("engine_data.csv", "engine computer", "", "time_s,name,value", len(rec.Bus), func(b []byte, i int) []byte {
		v := rec.Bus[i]
		b = append(row(b, v.T, 3), ',')
		b = append(append(b, v.Name...), ',')
		return strconv.AppendFloat(b, v.Value, 'f', 4, 64)
	})
	if rec.Computer != nil {
		w.json("codes.json", told(*rec.Computer))
		w.list.Files = append(w.list.Files, About{File: "codes.json", Sensor: "engine computer", Note: "codes, counters and readiness at the end"})
	}
	w.csv("exhaust_gas.csv", "exhaust gas analyser", "% and ppm hexane", "time_s,co2_percent,co_percent,o2_percent,hc_ppm", len(rec.Gas), func(b []byte, i int) []byte {
		g := rec.Gas[i]
		return row(b, g.T, 1, g.CO2, 1, g.CO, 2, g.O2, 2, g.HCppm, 0)
	})
}

func (w *writer) edges(file, sensor, note string, at []float64) {
	if len(at) == 0 {
		return
	}
	w.csv(file, sensor, "s", "time_s", len(at), func(b []byte, i int) []byte { return row(b, at[i], 7) })
	w.list.Files[len(w.list.Files)-1].Note = note
}

// crankNote says where the wheel stands, as a data sheet would.
func crankNote(c practice.Config) string {
	if c.Wheel.Teeth == 0 {
		return fmt.Sprintf("marks at %v° after firing top dead centre of cylinder %d", c.Wheel.Marks, c.Layout.At(0))
	}
	return fmt.Sprintf("%d−%d wheel; first tooth after the gap %g° after firing top dead centre of cylinder %d", c.Wheel.Teeth, c.Wheel.Missing, float64(c.Wheel.GapDeg), c.Layout.At(0))
}

func camNote(c practice.Config) string {
	return fmt.Sprintf("edges at %v° of the cycle after firing top dead centre of cylinder %d", c.Cam.Edges, c.Layout.At(0))
}

// row appends pairs of value and number of decimals, separated by commas.
func row(b []byte, first float64, decimals int, more ...any) []byte {
	b = strconv.AppendFloat(b, first, 'f', decimals, 64)
	for i := 0; i+1 < len(more); i += 2 {
		b = append(b, ',')
		b = strconv.AppendFloat(b, more[i].(float64), 'f', more[i+1].(int), 64)
	}
	return b
}

func (w *writer) csv(file, sensor, unit, head string, n int, line func([]byte, int) []byte) {
	if n == 0 {
		return
	}
	b := append([]byte(head), '\n')
	for i := range n {
		b = append(line(b, i), '\n')
	}
	w.save(file, b)
	w.list.Files = append(w.list.Files, About{File: file, Sensor: sensor, Unit: unit})
}

func (w *writer) wav(file, sensor string, t practice.Trace, fullScale float64) {
	if len(t.X) == 0 {
		return
	}
	w.save(file, wav(t, fullScale))
	w.list.Files = append(w.list.Files, About{File: file, Sensor: sensor, Unit: t.Unit, Hz: t.Hz, FullScale: fullScale, StartSec: trim(t.Start, 1e-6)})
}

func (w *writer) json(file string, v any) {
	b, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		w.err = err
		return
	}
	w.save(file, append(b, '\n'))
}

func (w *writer) save(file string, b []byte) {
	if w.err == nil {
		w.err = os.WriteFile(filepath.Join(w.dir, file), b, 0o644)
	}
}
