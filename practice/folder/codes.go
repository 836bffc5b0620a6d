package folder

import (
	"math"

	"halforder/practice"
)

// Told is what the engine computer tells at the end, in codes.json.
type Told struct {
	Lamp         string             `json:"lamp"`
	Codes        []ToldCode         `json:"codes"`
	Readiness    practice.Readiness `json:"readiness"`
	Misfires200  []int              `json:"misfires_last_200_turns"`  // by cylinder
	Misfires1000 []int              `json:"misfires_last_1000_turns"` // by cylinder
	Misfires     []int              `json:"misfires_since_cleared"`
	InjectorsCut []int              `json:"injectors_cut"`
	Running200   []int              `json:"misfires_running_200_turns"` // block not yet full
	Running1000  []int              `json:"misfires_running_1000_turns"`
}

// ToldCode is one code with its freeze frame.
type ToldCode struct {
	Code      string `json:"code"`
	Pending   bool   `json:"pending"`
	Confirmed bool   `json:"confirmed"`
	Permanent bool   `json:"permanent"`
	Frame     Frame  `json:"freeze_frame"`
}

// Frame is a freeze frame, rounded as the open standard rounds its values.
type Frame struct {
	RPM         float64   `json:"rpm"`
	LoadPercent float64   `json:"load_percent"`
	CoolantC    float64   `json:"coolant_c"`
	ManifoldKPa float64   `json:"manifold_kpa"`
	SpeedKmh    float64   `json:"speed_kmh"`
	ShortTrims  []float64 `json:"short_trims_percent"` // by bank
	LongTrims   []float64 `json:"long_trims_percent"`
	ClosedLoop  bool      `json:"closed_loop"`
}

func told(s practice.State) Told {
	out := Told{
		Lamp: string(s.Lamp), Codes: []ToldCode{}, Readiness: s.Readiness, Misfires: s.Misfires, InjectorsCut: []int{},
		Misfires200: s.LastMisfires200, Misfires1000: s.LastMisfires1000, Running200: s.Misfires200, Running1000: s.Misfires1000,
	}
	for _, c := range s.InjectorsCut {
		out.InjectorsCut = append(out.InjectorsCut, int(c))
	}
	for _, c := range s.Codes {
		out.Codes = append(out.Codes, ToldCode{c.Code, c.Pending, c.Confirmed, c.Permanent, frame(c.Frame)})
	}
	return out
}

func frame(f practice.FreezeFrame) Frame {
	return Frame{
		RPM: trim(float64(f.RPM), 0.25), LoadPercent: percent(f.LoadPercent, 255), CoolantC: math.Floor(f.CoolantC), ManifoldKPa: math.Floor(f.ManifoldKPa),
		SpeedKmh: math.Floor(f.SpeedKmh), ShortTrims: percents(f.ShortPercent), LongTrims: percents(f.LongPercent), ClosedLoop: f.ClosedLoop,
	}
}

// percent is x in steps of 100/steps, to four decimals.
func percent(x, steps float64) float64 { return trim(math.Round(x*steps/100)*100/steps, 1e-4) }

func percents(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = percent(v, 128)
	}
	return out
}
