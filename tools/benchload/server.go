package main

import (
	"context"
	"errors"
	"net"
	"net/http"
	"path/filepath"
	"syscall"
	"time"

	"halforder/engine"
	"halforder/practice"
	"halforder/reason/fault"
	"halforder/store/sqlite"
	"halforder/web"
)

// server is a bench that can be killed.
type server struct {
	dir, addr string
	store     *sqlite.Store
	bench     *web.Bench
	http      *http.Server
	cancel    context.CancelFunc
}

func (s *server) url() string { return "http://" + s.addr }

func (s *server) start() error {
	ctx, cancel := context.WithCancel(context.Background())
	s.cancel = cancel
	store, err := sqlite.Open(ctx, s.dir)
	if err != nil {
		return err
	}
	catalogue, err := fault.Default()
	if err != nil {
		return err
	}
	s.store = store
	if s.bench, err = web.New(web.Config{Store: store, Catalogue: catalogue, Dir: filepath.Join(s.dir, "bench"), Now: time.Now}); err != nil {
		return err
	}
	var l net.Listener
	for range 100 {
		if l, err = net.Listen("tcp", s.addr); err == nil {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	if err != nil {
		return err
	}
	s.addr = l.Addr().String()
	s.http = &http.Server{Handler: s.bench.Handler()}
	go s.bench.Run(ctx)
	go s.http.Serve(l)
	return nil
}

// kill drops all connections at once.
func (s *server) kill() error {
	s.http.Close()
	s.cancel()
	return errors.Join(s.bench.Close(), s.store.Close())
}

// practiceSounds are engines with and without a dead cylinder.
func practiceSounds(seconds float64) ([][]float32, error) {
	var out [][]float32
	for i, text := range []string{"", "coil-open@3", "coil-open@1", "plug-fouled@2"} {
		layout, err := engine.Parse("i4")
		if err != nil {
			return nil, err
		}
		cfg := practice.Defaults(layout)
		cfg.Seed, cfg.Running = uint64(i), true
		if text != "" {
			f, err := practice.ParseFault(text)
			if err != nil {
				return nil, err
			}
			cfg.Faults = append(cfg.Faults, f)
		}
		rec, _, err := practice.Run(cfg, practice.Watch(seconds), practice.Sensors{Sound: &practice.SoundSensor{Hz: rate}})
		if err != nil {
			return nil, err
		}
		out = append(out, rec.Sound.X)
	}
	return out, nil
}

// cpuSeconds is the processor time this process has used.
func cpuSeconds() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	t := func(v syscall.Timeval) float64 { return float64(v.Sec) + float64(v.Usec)/1e6 }
	return t(u.Utime) + t(u.Stime)
}
