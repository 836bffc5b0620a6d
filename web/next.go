package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"halforder/job"
	"halforder/reason/plan"
	"halforder/report"
)

// thinking remembers what the plan said of each state of each job: it takes
// most of a second, and several pages ask.
type thinking struct {
	memory[thoughtKey, thought]
	turn chan struct{} // one at a time: the machine also listens
}

type thoughtKey struct {
	id   job.ID
	last int64
}

type thought struct {
	done  chan struct{}
	steps []plan.Suggestion
	err   error
}

const mostThoughts = 64

func newThinking() *thinking {
	return &thinking{memory: newMemory[thoughtKey, thought](mostThoughts), turn: make(chan struct{}, 1)}
}

// of begins to think about a card, or gives the thought already begun.
func (t *thinking) of(b *Bench, card *job.Card) *thought {
	begun, fresh := t.begin(thoughtKey{card.ID, card.Last}, &thought{done: make(chan struct{})})
	if !fresh {
		return begun
	}
	go func() {
		t.turn <- struct{}{}
		defer func() {
			if p := recover(); p != nil {
				begun.err = fmt.Errorf("the plan failed: %v", p)
			}
			<-t.turn
			close(begun.done)
		}()
		believed, err := b.belief(card)
		if err != nil {
			begun.err = err
			return
		}
		begun.steps, begun.err = card.Next(believed, 0, 0)
	}()
	return begun
}

func (t *thought) wait() ([]plan.Suggestion, error) {
	<-t.done
	return t.steps, t.err
}

// stepsNow words what is proposed, nothing when the entries contradict.
func (b *Bench) stepsNow(card *job.Card) []report.Step {
	steps, err := b.thinking.of(b, card).wait()
	if err != nil {
		return nil
	}
	return report.Steps(steps)
}

// nextStep is one proposal with the page that carries it out.
type nextStep struct {
	plan.Suggestion
	Link string
	Verb string
}

type nextData struct {
	Steps    []nextStep
	Done     string // why nothing is proposed
	Contrary string
}

func (b *Bench) nextPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "next")
	if err != nil {
		return err
	}
	var v nextData
	steps, err := b.thinking.of(b, card).wait()
	if err != nil {
		v.Contrary = err.Error()
	}
	for _, s := range steps {
		v.Steps = append(v.Steps, nextStep{s, linkOf(card, s), verbOf(s)})
	}
	if err == nil && len(steps) == 0 {
		v.Done = report.NothingNext(card)
	}
	p.Data = v
	return b.show(w, "next", p)
}

// linkOf is the page on which a step is carried out and entered.
func linkOf(card *job.Card, s plan.Suggestion) string {
	base := fmt.Sprintf("/jobs/%d", card.ID)
	switch {
	case s.Check == job.ProveStep:
		return base + "/proof"
	case s.Check == "record":
		return base + "/listen"
	case s.Check == "cut" && s.Sweep:
		return base + "/cut"
	case s.Check != "" && s.Kind != "" && len(s.Cylinders) == 2:
		return fmt.Sprintf("%s/parts?kind=%s&from=%d&to=%d", base, url.QueryEscape(string(s.Kind)), s.Cylinders[0], s.Cylinders[1])
	case s.Check != "" && len(s.Cylinders) == 1:
		return fmt.Sprintf("%s/checks/%s?at=%d", base, s.Check, s.Cylinders[0])
	case s.Check != "":
		return base + "/checks/" + s.Check
	case s.Kind != "" && slices.Contains(kinds(card), s.Kind):
		from := ""
		if at := card.Seating.Where(s.Kind, s.Part); len(at) > 0 {
			from = fmt.Sprintf("&from=%d", at[0])
		}
		return base + "/parts?kind=" + url.QueryEscape(string(s.Kind)) + from
	}
	return base + "/money"
}

func verbOf(s plan.Suggestion) string {
	switch {
	case s.Check == job.ProveStep:
		return "Prove it"
	case s.Check == "record":
		return "Listen now"
	case s.Check == "cut" && s.Sweep:
		return "Cut out, hands free"
	case s.Check != "" && s.Kind != "":
		return "Swap and enter"
	case s.Check != "":
		return "Do it and enter"
	}
	return "Enter the repair"
}
