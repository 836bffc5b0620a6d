package order

import (
	"halforder/engine"
	"halforder/signal"
)

// heard gathers the cycles and the level of what came in.
type heard struct {
	layout    engine.Layout
	bands     []signal.Band
	harmonics int
	level     level
	cycles    []cycle
}

func newHeard(layout engine.Layout, bands []signal.Band, harmonics int, rate float64) heard {
	return heard{layout: layout, bands: bands, harmonics: harmonics, level: level{rate: rate}}
}

func (h *heard) add(c cycle) { h.cycles = append(h.cycles, c) }
