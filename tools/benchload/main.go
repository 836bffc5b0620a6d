// Command benchload streams many phones at once to a bench and measures how
// late the live meters are and whether anything is lost.
//
//	go run ./tools/benchload -phones 20 -seconds 30
//
// It starts a bench of its own in a temporary folder, opens one job a phone,
// sends the sound of practice engines in pieces of a tenth of a second at 48
// kHz, watches the live events of each job, kills the server once in the
// middle, and at the end compares every sample in the store with what was sent.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log"
	"net/http"
	"net/url"
	"os"
	"runtime"
	"runtime/pprof"
	"sync"
	"time"
)

func main() {
	phones := flag.Int("phones", 20, "phones streaming at once")
	seconds := flag.Float64("seconds", 30, "how long")
	kill := flag.Bool("kill", true, "kill the server once in the middle")
	profile := flag.String("profile", "", "write a processor profile to this file")
	flag.Parse()
	if *profile != "" {
		f, err := os.Create(*profile)
		if err != nil {
			log.Fatal(err)
		}
		if err := pprof.StartCPUProfile(f); err != nil {
			log.Fatal(err)
		}
		defer pprof.StopCPUProfile()
	}
	if err := run(*phones, *seconds, *kill); err != nil {
		log.Fatal(err)
	}
}

func run(phones int, seconds float64, kill bool) error {
	dir, err := os.MkdirTemp("", "benchload")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	s := &server{dir: dir, addr: "127.0.0.1:0"}
	if err := s.start(); err != nil {
		return err
	}
	sounds, err := practiceSounds(seconds)
	if err != nil {
		return err
	}
	var all []*phone
	for i := range phones {
		p := &phone{base: s.url(), sound: sounds[i%len(sounds)], number: i + 1, client: &http.Client{Timeout: 10 * time.Second}}
		if err := p.openJob(); err != nil {
			return err
		}
		all = append(all, p)
	}
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var done sync.WaitGroup
	began, cpu := time.Now(), cpuSeconds()
	for i, p := range all {
		go p.watch(ctx)
		done.Add(1)
		go func() {
			defer done.Done()
			time.Sleep(time.Duration(i) * 7 * time.Millisecond) // phones do not beat together
			p.stream()
		}()
	}
	if kill {
		time.Sleep(time.Duration(seconds / 2 * float64(time.Second)))
		from := time.Now()
		if err := errors.Join(s.kill(), s.start()); err != nil {
			return err
		}
		tell(all, outage{from, time.Now()})
	}
	done.Wait()
	wall := time.Since(began).Seconds()
	used := cpuSeconds() - cpu
	return judge(s, all, kill, wall, used)
}

// tell lets the phones know when the server was dead, so that what was recorded
// around that time is counted apart.
func tell(all []*phone, down outage) {
	for _, p := range all {
		p.mu.Lock()
		p.late.down = down
		p.mu.Unlock()
	}
}

func judge(s *server, all []*phone, killed bool, wall, cpu float64) error {
	var late lateness
	var lost, gaps int
	var errs []error
	for _, p := range all {
		p.mu.Lock()
		late.add(p.late)
		p.mu.Unlock()
		l, g, err := p.compare(s)
		lost, gaps, errs = lost+l, gaps+g, append(errs, err)
	}
	if err := errors.Join(errs...); err != nil {
		return err
	}
	fmt.Printf("%d phones for %.1f s, %.2f cores used by bench and phones together\n", len(all), wall, cpu/wall)
	if load, err := os.ReadFile("/proc/loadavg"); err == nil {
		fmt.Printf("load of the machine meanwhile: %.4s on %d processors\n", load, runtime.NumCPU())
	}
	late.print(killed)
	fmt.Printf("samples lost %d, gaps %d\n", lost, gaps)
	switch {
	case lost > 0 || gaps > 0 || len(late.meters) == 0:
		return errors.New("something was lost, or nothing was shown")
	case !late.timely():
		return errors.New("the tablet was too late")
	}
	return nil
}

func form(pairs ...string) url.Values {
	v := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		v.Set(pairs[i], pairs[i+1])
	}
	return v
}
