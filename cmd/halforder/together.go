package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"halforder/engine"
	"halforder/finding"
	"halforder/measure/order"
)

// togetherOptions name what other sensors recorded at the same time.
type togetherOptions struct {
	With []string `type:"path" placeholder:"FILE" help:"Another recording of the same engine at the same time, to be joined: sound or a table of motion."`
}

// together joins what a sensor found with the others.
func (r *run) together(first order.Sensed, o togetherOptions, layout engine.Layout, speed engine.RPM) (finding.Finding, error) {
	all := []order.Sensed{first}
	for _, path := range o.With {
		h, err := r.sense(path, soundOptions{Speed: speed}, layout)
		if err != nil {
			return h.Finding, fmt.Errorf("%s: %w", filepath.Base(path), err)
		}
		all = append(all, order.Sensed{Sensor: distinctName(path, all), Finding: h.Finding})
	}
	return fused(layout, all)
}

// fused is the finding of one sensor or of several joined.
func fused(layout engine.Layout, all []order.Sensed) (finding.Finding, error) {
	if len(all) == 1 {
		return all[0].Finding, nil
	}
	f, err := order.Fuse(layout, all...)
	if err != nil {
		return f, recordingError{err}
	}
	return f, nil
}

// distinctName is a file's name, with its folder where another has it too.
func distinctName(path string, all []order.Sensed) string {
	name := filepath.Base(path)
	if slices.ContainsFunc(all, func(s order.Sensed) bool { return s.Sensor == name }) {
		return filepath.Join(filepath.Base(filepath.Dir(path)), name)
	}
	return name
}

// sense judges a recording: a table of motion by its name, else sound.
func (r *run) sense(path string, o soundOptions, layout engine.Layout) (heard, error) {
	if sensorOf(path) == "motion" {
		return r.feelFile(path, order.Config{Layout: layout, Speed: o.Speed, Cuts: o.Cut}, motionColumns{})
	}
	return r.hearFile(path, o, layout)
}

func sensorOf(path string) string {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".csv", ".tsv", ".txt":
		return "motion"
	}
	return "sound"
}
