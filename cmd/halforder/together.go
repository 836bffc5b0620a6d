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
	With []string `type:"path" placeholder:"FILE" help:"Another recording of the same engine at the same time, to be joined: sound (.wav) or a table of motion."`
}

// together joins what a sensor found with the others.
func (r *run) together(first order.Sensed, o togetherOptions, layout engine.Layout, speed engine.RPM) (finding.Finding, error) {
	if len(o.With) == 0 {
		return first.Finding, nil
	}
	all := []order.Sensed{first}
	for _, path := range o.With {
		name := filepath.Base(path)
		f, err := r.sense(path, layout, speed)
		if err != nil {
			return f, fmt.Errorf("%s: %w", name, err)
		}
		if slices.ContainsFunc(all, func(s order.Sensed) bool { return s.Sensor == name }) {
			name = filepath.Join(filepath.Base(filepath.Dir(path)), name)
		}
		all = append(all, order.Sensed{Sensor: name, Finding: f})
	}
	f, err := order.Fuse(layout, all...)
	if err != nil {
		return f, recordingError{err}
	}
	return f, nil
}

// sense judges a recording of sound or motion, by its name.
func (r *run) sense(path string, layout engine.Layout, speed engine.RPM) (finding.Finding, error) {
	if strings.EqualFold(filepath.Ext(path), ".wav") {
		h, err := r.hearFile(path, soundOptions{Speed: speed}, layout)
		return h.Finding, err
	}
	return r.feelFile(path, order.Config{Layout: layout, Speed: speed}, motionColumns{})
}
