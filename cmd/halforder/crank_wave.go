package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"halforder/measure/crank"
	"halforder/reader/table"
)

// readCrankWave takes each channel of a sound file for a sensor: ch1, ch2 …
func readCrankWave(in io.Reader, c *channels) error {
	traces, notes, err := waveTraces(in, func([]float32, int, float64) {})
	if err != nil {
		return err
	}
	c.notes = append(c.notes, notes...)
	return c.addTraces(traces)
}

// waveTraces looks for teeth in each channel and hands every block on.
func waveTraces(in io.Reader, also func(block []float32, channel int, rate float64)) ([]*crank.Trace, []string, error) {
	r, err := openSoundFile(in)
	if err != nil {
		return nil, nil, err
	}
	traces := make([]*crank.Trace, r.Channels())
	for i := range traces {
		if traces[i], err = crank.NewTrace(r.Rate()); err != nil {
			return nil, nil, err
		}
	}
	buf, one := make([]float32, 8192*r.Channels()), make([]float32, 8192)
	for {
		n, err := r.Read(buf)
		for i, tr := range traces {
			k := 0
			for j := i; j < n; j += r.Channels() {
				one[k] = buf[j]
				k++
			}
			tr.Push(one[:k])
			also(one[:k], i, r.Rate())
		}
		if errors.Is(err, io.EOF) {
			return traces, r.Notes(), nil
		} else if err != nil {
			return nil, nil, err
		}
	}
}

func channelName(i int) string { return fmt.Sprintf("ch%d", i+1) }

func (c *channels) addTraces(traces []*crank.Trace) error {
	var failed error
	for i, tr := range traces {
		at, falling, err := tr.Edges()
		if err != nil {
			failed = errors.Join(failed, fmt.Errorf("%s: %w", channelName(i), err))
			continue
		}
		c.addTrace(channelName(i), at, falling)
	}
	if len(c.names) > 0 {
		return nil
	}
	return failed
}

// readStarter finds the starter's current in a file, and marks of the cycle in
// the channel named for the cam.
func (p *crankPick) readStarter(files []string, column string) (crank.StarterCurrent, error) {
	var cur crank.StarterCurrent
	var c channels
	start := 0.0
	for _, path := range files {
		if err := p.readStarterFile(path, column, &cur, &c, &start); err != nil {
			return cur, fmt.Errorf("%s: %w", filepath.Base(path), err)
		}
	}
	if cur.Rate == 0 {
		return cur, fmt.Errorf("no column or channel %q with the starter's current", column)
	}
	if p.Cam == "" {
		return cur, nil
	}
	marks, ok := c.times[p.Cam]
	if !ok {
		return cur, fmt.Errorf("no channel %q for the cam. %s", p.Cam, strings.Join(c.notes, " "))
	}
	for _, m := range marks {
		cur.Marks = append(cur.Marks, m-start)
	}
	slices.Sort(cur.Marks)
	return cur, nil
}

func (p *crankPick) readStarterFile(path, column string, cur *crank.StarterCurrent, c *channels, start *float64) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	in := bufio.NewReaderSize(f, 1<<16)
	head, _ := in.Peek(512)
	if isSoundFile(head) {
		return starterWave(in, column, cur, c)
	}
	t, err := table.Read(in)
	if err != nil {
		return err
	}
	times, err := p.timesOf(t)
	if err != nil {
		return err
	}
	for i, col := range t.Columns {
		switch {
		case (col.Name == column || fmt.Sprint(i+1) == column) && col.Numbers != nil:
			n := len(times)
			if n < 2 || !(times[n-1] > times[0]) {
				return errors.New("times do not rise")
			}
			cur.Rate, *start = float64(n-1)/(times[n-1]-times[0]), times[0]
			for _, v := range col.Numbers {
				cur.Values = append(cur.Values, float32(v))
			}
		case p.Cam != "":
			p.readColumn(col, times, c)
		}
	}
	return nil
}

func starterWave(in io.Reader, column string, cur *crank.StarterCurrent, c *channels) error {
	traces, _, err := waveTraces(in, func(block []float32, channel int, rate float64) {
		if channelName(channel) == column {
			cur.Rate = rate
			cur.Values = append(cur.Values, block...)
		}
	})
	if err != nil {
		return err
	}
	for i, tr := range traces {
		if at, _, err := tr.Edges(); err == nil && channelName(i) != column {
			c.add(channelName(i), at)
		}
	}
	if len(cur.Values) == 0 {
		return fmt.Errorf("no channel %q: the file has %d", column, len(traces))
	}
	return nil
}
