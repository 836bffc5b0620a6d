package crank

import (
	"fmt"
	"sort"
)

// windowTurns is how many crank turns a stream remembers: those over which the
// law counts emissions.
const windowTurns = emissionTurns

// Stream weighs a running engine while its edges arrive. It remembers the last
// thousand turns and counts the misses of the whole stream.
//
//	s := crank.NewStream(setup)
//	err := s.Write(crankSeconds, camSeconds) // pieces of any size
//	r, err := s.Snapshot()                   // as for Analyse, over the last thousand turns
//	n := s.Total()
type Stream struct {
	setup   Setup
	rec     Recording
	total   Count
	counted float64 // firings up to this moment are in total
	perTurn int     // marks in one turn, once known
}

// Count is how many firings were weighed and how many of them missed.
type Count struct {
	Fired, Missed int
	ByPosition    []Position // by firing position; meaningful only when cylinders can be named
}

// Position is the count of one firing position.
type Position struct{ Fired, Missed int }

// NewStream prepares for edges.
func NewStream(s Setup) *Stream { return &Stream{setup: s} }

// Write takes the next edges, in seconds, ascending and later than all before.
// Either may be empty. After an error nothing was taken.
func (s *Stream) Write(crank, cam []float64) error {
	if err := follows("crank", s.rec.Crank, crank); err != nil {
		return err
	}
	if err := follows("cam", s.rec.Cam, cam); err != nil {
		return err
	}
	s.rec.Crank = append(s.rec.Crank, crank...)
	s.rec.Cam = append(s.rec.Cam, cam...)
	if s.perTurn > 0 && len(s.rec.Crank) > 3*windowTurns/2*s.perTurn {
		_, err := s.Snapshot() // counts what is about to be forgotten
		s.forget()
		return err
	}
	return nil
}

func follows(what string, have, next []float64) error {
	last, any := 0.0, len(have) > 0
	if any {
		last = have[len(have)-1]
	}
	for _, t := range next {
		if any && !(t > last) || t != t {
			return fmt.Errorf("%s edge at %g s does not come after the one at %g s", what, t, last)
		}
		last, any = t, true
	}
	return nil
}

// forget drops all but the last thousand turns.
func (s *Stream) forget() {
	drop := len(s.rec.Crank) - windowTurns*s.perTurn
	if drop <= 0 {
		return
	}
	s.rec.Crank = append([]float64(nil), s.rec.Crank[drop:]...)
	i := sort.SearchFloat64s(s.rec.Cam, s.rec.Crank[0])
	s.rec.Cam = append([]float64(nil), s.rec.Cam[i:]...)
}

// Snapshot is the result over the last thousand turns. Errors as for Analyse.
func (s *Stream) Snapshot() (*Result, error) {
	r, err := Analyse(s.setup, s.rec)
	if err != nil {
		return nil, err
	}
	s.perTurn = len(r.Wheel.Angles)
	s.count(r)
	return r, nil
}

// count adds the firings not yet counted. The last ones wait: a firing is
// weighed together with those after it.
func (s *Stream) count(r *Result) {
	if s.total.ByPosition == nil {
		s.total.ByPosition = make([]Position, s.setup.Layout.N())
	}
	for _, f := range r.Firings[:max(0, len(r.Firings)-2*widestAfter)] {
		if f.Seconds <= s.counted {
			continue
		}
		s.counted = f.Seconds
		p := &s.total.ByPosition[f.Position]
		p.Fired++
		s.total.Fired++
		if f.Miss {
			p.Missed++
			s.total.Missed++
		}
	}
}

// Total is the count over the whole stream, up to the last Snapshot.
func (s *Stream) Total() Count {
	t := s.total
	t.ByPosition = append([]Position(nil), t.ByPosition...)
	return t
}
