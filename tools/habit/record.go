package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"slices"

	"halforder/reason/belief"
)

// line is what one job came to, by policy, as it is saved.
type line struct {
	Job      int       `json:"job"`
	Class    string    `json:"class"`
	Outcomes []outcome `json:"outcomes"`
}

// outcome is one job with one policy. Extra is the cost above the repairs that
// were needed, trust the part of the cost that is no price.
type outcome struct {
	Cost     float64 `json:"cost"`
	Extra    float64 `json:"extra"`
	Trust    float64 `json:"trust"`
	Minutes  float64 `json:"minutes"`
	Needless int     `json:"needless"`
	Comeback bool    `json:"comeback"`
	Handed   bool    `json:"handed"`
	Notes    deciles `json:"notes"`
	Moved    *moved  `json:"moved,omitempty"` // of the plan with wrong priors
}

// deciles are the beliefs stated during a job, by tenth.
type deciles struct {
	By      [10]decile `json:"by"`
	Accused bool       `json:"accused"` // a good part stood at 0.9 or more at some step
	Sold    bool       `json:"sold"`    // a good part that stood at 0.9 or more was renewed
}

type decile struct {
	N     int     `json:"n"`
	Sum   float64 `json:"sum"`
	Right int     `json:"right"`
}

// leastNoted is the belief from which a suspect is noted.
const leastNoted = 0.01

// note puts the beliefs in suspects beside the truth.
func (b *bench) note(bel *belief.Belief) {
	for _, s := range bel.Suspects() {
		if s.P < leastNoted {
			break
		}
		right := slices.ContainsFunc(b.truth0, func(f belief.Fault) bool {
			return f.Cause == s.Cause && f.Site.Name == s.Site.Name && f.Site.Kind == s.Site.Kind
		})
		d := &b.notes.By[min(int(s.P*10), 9)]
		d.N++
		d.Sum += s.P
		if right {
			d.Right++
		}
	}
	b.stated = bel.Parts()
	for _, s := range b.stated {
		bad := slices.ContainsFunc(b.truth0, func(f belief.Fault) bool { return string(f.Site.Part) == s.Name })
		b.notes.Accused = b.notes.Accused || s.P >= sure && !bad
	}
}

// readLines reads what was saved, nothing where there is no file yet.
func readLines(name string) ([]line, error) {
	if name == "" {
		return nil, nil
	}
	f, err := os.Open(name)
	if os.IsNotExist(err) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var out []line
	in := bufio.NewScanner(f)
	in.Buffer(nil, 1<<20)
	for in.Scan() {
		var l line
		if err := json.Unmarshal(in.Bytes(), &l); err != nil {
			return nil, fmt.Errorf("%s line %d: %w", name, len(out)+1, err)
		}
		out = append(out, l)
	}
	return out, in.Err()
}

func addLines(name string, lines []line) error {
	if name == "" {
		return nil
	}
	f, err := os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	for _, l := range lines {
		data, err := json.Marshal(l)
		if err == nil {
			_, err = f.Write(append(data, '\n'))
		}
		if err != nil {
			f.Close()
			return err
		}
	}
	return f.Close()
}
