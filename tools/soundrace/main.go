//go:build unix

// Command soundrace times hearing an engine against a plain numpy version of
// the same pipeline on the same minute of sound, one processor each, in the
// same run. The numpy version does less: it judges nothing.
//
//	go run ./tools/soundrace -python /usr/bin/python3
package main

import (
	_ "embed"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"

	"halforder/engine"
	"halforder/measure/order"
	"halforder/practice"
	"halforder/reader/wav"
	"halforder/tools/race"
)

//go:embed plain.py
var script []byte

const (
	cylinders = 4
	hz        = 48000
	minute    = 60.0
)

func main() {
	python := flag.String("python", "python3", "python with numpy and scipy")
	rounds := flag.Int("rounds", 5, "how often")
	flag.Parse()
	runtime.GOMAXPROCS(1)
	if err := run(*python, *rounds); err != nil {
		fmt.Fprintln(os.Stderr, "soundrace:", err)
		os.Exit(1)
	}
}

func run(python string, rounds int) error {
	dir, err := os.MkdirTemp("", "soundrace")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "minute.wav")
	if err := record(path); err != nil {
		return err
	}
	for range rounds {
		ours, err := hear(path)
		if err != nil {
			return err
		}
		last, err := race.Python(python, script, path, strconv.Itoa(cylinders))
		if err != nil {
			return err
		}
		theirs, err := strconv.ParseFloat(last, 64)
		if err != nil {
			return fmt.Errorf("numpy version printed %q, expected seconds", last)
		}
		fmt.Printf("go %.3f s (%.0f times real time), numpy %.3f s: %.1f times as long\n", ours, minute/ours, theirs, theirs/ours)
	}
	return nil
}

// record writes a minute of a practice engine with a dead cylinder.
func record(path string) error {
	layout, err := engine.Parse("i4")
	if err != nil {
		return err
	}
	fault, err := practice.ParseFault("coil-open@2")
	if err != nil {
		return err
	}
	cfg := practice.Defaults(layout)
	cfg.Seed, cfg.Running, cfg.Faults = 1, true, []practice.Fault{fault}
	sound := practice.SoundSensor{Hz: hz}
	rec, _, err := practice.Run(cfg, practice.Watch(minute), practice.Sensors{Sound: &sound})
	if err != nil {
		return err
	}
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	defer file.Close()
	w, err := wav.NewWriter(file, wav.Format{Coding: wav.PCM, Channels: 1, Rate: hz, Bits: 16})
	if err != nil {
		return err
	}
	return errors.Join(w.Write(rec.Sound.X), w.Close())
}

// hear is the processor time from the file to the finding.
func hear(path string) (seconds float64, err error) {
	layout, err := engine.Parse("i4")
	if err != nil {
		return 0, err
	}
	before := race.Seconds()
	file, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	defer file.Close()
	reader, err := wav.NewReader(file)
	if err != nil {
		return 0, err
	}
	_, err = order.Analyse(reader, hz, order.Config{Layout: layout})
	return race.Seconds() - before, err
}
