package job

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"halforder/measure/catalyst"
)

// Heated says how the engine ran in a test, as far as the catalysts go: which
// cylinders were off, by spark or by fuel, from when to when. What heat that
// makes in each bank is folded from it.
type Heated struct {
	Setting catalyst.Setting `json:"setting"` // how careful the books were
	Steps   []catalyst.Step  `json:"steps"`
}

// Heat is a Heated event with what it did by the model, as its setting counts.
type Heat struct {
	Stamped[Heated]
	PeakK           []float64 // by catalyst, above the inlet, during the test
	EndK            []float64 // at its end
	SparkSeconds    float64   // of spark cut in the test
	InjectorSeconds float64   // of injector cut
}

func init() { bodies["heated"] = func() Body { return new(Heated) } }

func (*Heated) kind() string { return "heated" }

func (b *Heated) apply(c *Card, e Event) error {
	if len(b.Steps) == 0 {
		return errors.New("catalyst books: no step given")
	}
	books, err := c.Catalyst(b.Steps[0].At, b.Setting)
	if err != nil {
		return err
	}
	for i := range books.Banks {
		books.Banks[i].PeakK = books.Banks[i].RiseK
	}
	spark, injector := books.SparkSeconds, books.InjectorSeconds
	if err := books.Follow(b.Steps); err != nil {
		return err
	}
	h := Heat{Stamped: stamp(c, e, b), SparkSeconds: books.SparkSeconds - spark, InjectorSeconds: books.InjectorSeconds - injector}
	for _, bank := range books.Banks {
		h.PeakK, h.EndK = append(h.PeakK, bank.PeakK), append(h.EndK, bank.RiseK)
	}
	c.Heats, c.books = append(c.Heats, h), books
	return nil
}

// Catalyst is the books of the car's catalysts for a session that begins at a
// moment, under a setting: the heat and the seconds of earlier tests on this
// card are in them, cooled since. They belong to the caller.
func (c *Card) Catalyst(at time.Time, s catalyst.Setting) (*catalyst.Ledger, error) {
	if c.books == nil {
		return catalyst.New(c.Layout(), s)
	}
	if err := s.Check(); err != nil {
		return nil, err
	}
	books := c.books.Copy()
	books.Setting = s
	books.Resume(at)
	return books, nil
}

// Words says what a test did to the catalysts, in one sentence.
func (h Heat) Words() string {
	cuts := "no cut"
	switch {
	case h.SparkSeconds > 0 && h.InjectorSeconds > 0:
		cuts = fmt.Sprintf("%.0f s of spark cut and %.0f s of injector cut", h.SparkSeconds, h.InjectorSeconds)
	case h.SparkSeconds > 0:
		cuts = fmt.Sprintf("%.0f s of spark cut", h.SparkSeconds)
	case h.InjectorSeconds > 0:
		cuts = fmt.Sprintf("%.0f s of injector cut", h.InjectorSeconds)
	}
	hottest := slices.Index(h.PeakK, slices.Max(h.PeakK))
	return fmt.Sprintf("%s; catalyst of bank %d up to %.0f K above its inlet by the %s", cuts, hottest+1, h.PeakK[hottest], settingWords(h.What.Setting))
}

func settingWords(s catalyst.Setting) string {
	if s.Name == "" {
		return "model"
	}
	return "model (" + s.Name + ")"
}
