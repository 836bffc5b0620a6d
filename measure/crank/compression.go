package crank

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"halforder/engine"
	"halforder/finding"
)

// CompressionVersion names the cranking analysis in findings.
const CompressionVersion = "compression/1"

// crankingMost is the speed above which the starter no longer turns the
// engine alone, rpm.
const crankingMost = 480

// Compression is what cranking tells of the cylinders' compression.
type Compression struct {
	Finding  finding.Finding
	Relative []float64 // by firing position (slot order when anonymous), 1: as the good ones
	Lost     []engine.Cylinder
	Weak     []engine.Cylinder
}

// Cranking reads the relative compression of each cylinder from the speed of
// the crank while the starter turns the engine without fuel: each compression
// takes energy from the crank and gives most of it back.
func Cranking(s Setup, rec Recording) (*Compression, error) {
	if s.Layout.N() < 2 {
		return nil, errors.New("relative compression needs at least two cylinders to compare")
	}
	a, err := prepareCranking(s, rec)
	if err != nil {
		var ok bool
		if a, ok = turnedByCompression(s, rec); !ok {
			return nil, err
		}
	}
	if len(a.clock.angles) < 2*s.Layout.N() {
		return nil, fmt.Errorf("%d marks a turn are too few to tell the compression of %d cylinders apart, %d are needed",
			len(a.clock.angles)/2, s.Layout.N(), s.Layout.N())
	}
	if w := a.clock.wheel; w.Learn && !a.clock.nominal && !s.Layout.Even() {
		return nil, errLearntUneven
	}
	cycle, err := a.crankingCycle()
	if err != nil {
		return nil, err
	}
	return a.compression(a.fitCompression(cycle), cycle), nil
}

// prepareCranking decodes the recording without needing steady cycles.
func prepareCranking(s Setup, rec Recording) (*analysis, error) {
	if !s.Layout.Valid() {
		return nil, errNoEngine
	}
	c, err := buildClock(s.Wheel, rec)
	if err != nil {
		return nil, err
	}
	a := &analysis{setup: s, clock: c, notes: c.notes}
	a.recogniseWheel(whileCranking)
	return a, nil
}

// crankingCycle is the mean cycle while the starter turns the engine.
type crankingCycle struct {
	shares []float64 // of the cycle's time between each mark and the next
	rpm    float64
	cycles int
	spread float64 // scatter of the logarithm of one cycle's share
}

// crankingCycle averages the cycles that the starter turns steadily.
func (a *analysis) crankingCycle() (crankingCycle, error) {
	m := a.clock.perCycle()
	var speeds []float64
	var cycles [][]float64
	for _, p := range a.clock.parts {
		for base := 0; base+m < len(p.t); base += m {
			if rpm := 120 / (p.t[base+m] - p.t[base]); rpm > 40 && rpm < crankingMost {
				speeds = append(speeds, rpm)
				cycles = append(cycles, p.t[base:base+m+1])
			}
		}
	}
	usual := median(speeds)
	for i := len(cycles) - 1; i >= 0; i-- { // spin-up, spin-down, a first firing
		if speeds[i] < 0.8*usual || speeds[i] > 1.25*usual {
			cycles, speeds = slices.Delete(cycles, i, i+1), slices.Delete(speeds, i, i+1)
		}
	}
	if len(cycles) < 2 {
		return crankingCycle{}, fmt.Errorf("no two full cycles of steady cranking below %d rpm: crank the engine for five seconds with fuel and spark off", crankingMost)
	}
	return meanCranking(cycles, usual), nil
}

// meanCranking takes the median share of each interval, drift removed to first
// order by dividing by the cycle's own time.
func meanCranking(cycles [][]float64, rpm float64) crankingCycle {
	m := len(cycles[0]) - 1
	out := crankingCycle{shares: make([]float64, m), rpm: rpm, cycles: len(cycles)}
	total := 0.0
	for k := range m {
		var logs []float64
		for _, t := range cycles {
			logs = append(logs, math.Log((t[k+1]-t[k])/(t[m]-t[0])))
		}
		d := describe(logs)
		out.shares[k] = math.Exp(d.median)
		total += out.shares[k]
		out.spread += d.dev / float64(m)
	}
	for k := range out.shares {
		out.shares[k] /= total
	}
	return out
}

// swing is by how much the speed changes within the cycle, as a share of it.
func (c crankingCycle) swing(angles []float64) float64 {
	still := make([]float64, len(angles))
	slowness := make([]float64, len(angles))
	for k := range angles {
		step, _ := turnStep(angles, still, k)
		slowness[k] = c.shares[k] * cycleDeg / step
	}
	return slices.Max(slowness) - slices.Min(slowness)
}

// compressionFit is what the mean cycle says of the compressions.
type compressionFit struct {
	zero   float64 // of the first top dead centre, before its shift
	tops   []float64
	order  []int
	say    quadratic // of each compression
	mean   []float64 // best estimate
	misfit float64   // weighted squares left
	left   []float64 // of the logarithm of the shares
	at     []float64 // the model as a vector
}
