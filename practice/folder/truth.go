package folder

import (
	"encoding/json"
	"os"

	"halforder/practice"
)

// Secret is the truth file: the whole engine, what was done, what happened.
type Secret struct {
	Engine  string         `json:"engine"`
	Seed    uint64         `json:"seed"`
	Faults  []string       `json:"faults"`
	Script  []string       `json:"script"`
	Firings []SecretFiring `json:"firings"`
	Events  []SecretEvent  `json:"events"`
}

// SecretFiring is one firing, rounded.
type SecretFiring struct {
	T        float64 `json:"time_s"`
	Cylinder int     `json:"cylinder"`
	Missed   bool    `json:"missed"`
	WorkJ    float64 `json:"work_j"`
	Lambda   float64 `json:"lambda"`
	RPM      float64 `json:"rpm"`
}

// SecretEvent is an action, code or stall.
type SecretEvent struct {
	T    float64 `json:"time_s"`
	What string  `json:"what"`
}

// WriteTruth writes the truth to a file of its own, which must not exist yet.
func WriteTruth(path string, cfg practice.Config, script practice.Script, truth practice.Truth) error {
	b, err := json.MarshalIndent(secret(cfg, script, truth), "", " ")
	if err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(append(b, '\n'))
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	return err
}

func secret(cfg practice.Config, script practice.Script, truth practice.Truth) Secret {
	s := Secret{Engine: cfg.Layout.String(), Seed: cfg.Seed, Faults: []string{}, Script: []string{}}
	for _, f := range cfg.Faults {
		s.Faults = append(s.Faults, f.String())
	}
	for _, step := range script.Steps {
		s.Script = append(s.Script, string(row(nil, step.At, 3))+" "+string(step.Do))
	}
	for _, f := range truth.Firings {
		s.Firings = append(s.Firings, SecretFiring{trim(f.T, 1e-5), int(f.Cylinder), f.Missed, trim(f.WorkJ, 0.1), trim(f.Lambda, 1e-3), trim(f.RPM, 1)})
	}
	for _, e := range truth.Events {
		s.Events = append(s.Events, SecretEvent{trim(e.T, 1e-3), e.What})
	}
	return s
}
