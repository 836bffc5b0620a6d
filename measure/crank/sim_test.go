package crank

import (
	"halforder/engine"
	"halforder/tools/roughroad"
)

// simEngine is a simulated engine with its wheel.
type simEngine struct {
	roughroad.Engine
	wheel Wheel
}

func defaultSim(layout string, wheel string, rpm float64) simEngine {
	l, err := engine.Parse(layout)
	if err != nil {
		panic(err)
	}
	w, err := ParseWheel(wheel)
	if err != nil {
		panic(err)
	}
	w = w.settle()
	return simEngine{roughroad.Default(l, w.Angles, rpm), w}
}

func (s simEngine) run() (Recording, roughroad.Truth) {
	crank, cam, truth := s.Run()
	return Recording{Crank: crank, Cam: cam}, truth
}

// reference tells the analysis where the first of the firing order is.
func (s simEngine) reference() []Reference {
	return []Reference{{s.Layout.At(0), s.TopAt - s.CamAt[0], FromCam}}
}
