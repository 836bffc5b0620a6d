package web

import (
	"crypto/rand"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"halforder/engine"
	"halforder/job"
	"halforder/practice"
	"halforder/web/guard"
	"halforder/web/take"
)

// driveAsk is what somebody does to a practice engine.
type driveAsk struct {
	Do       string          `json:"do"` // start, stop, rev, idle, cut, back, record, finish
	Cylinder engine.Cylinder `json:"cylinder,omitempty"`
	Place    string          `json:"place,omitempty"`
	Regime   string          `json:"regime,omitempty"`
}

func (b *Bench) drivePractice(w http.ResponseWriter, r *http.Request) error {
	card, err := b.card(r)
	if err != nil {
		return err
	}
	var ask driveAsk
	if err := readJSON(r, &ask); err != nil {
		return err
	}
	car, err := b.carOf(card)
	if err != nil {
		return err
	}
	switch ask.Do {
	case "look":
	case "start", "stop":
		err = car.live.Do(practice.Action(ask.Do))
	case "rev":
		err = car.live.Do("hold 2500")
	case "idle":
		err = car.live.Do("release")
	case "cut", "back":
		if err = card.Layout().Check(ask.Cylinder); err != nil {
			break
		}
		if ask.Do == "cut" {
			err = car.cutOff(ask.Cylinder)
		} else {
			err = car.putBack(ask.Cylinder)
		}
	case "record":
		err = b.recordPractice(car, card, ask)
	case "finish":
		answer, err := b.finishPractice(r, car)
		if err != nil {
			return err
		}
		return writeJSON(w, http.StatusOK, answer)
	default:
		err = fmt.Errorf("%q cannot be done to a practice engine", ask.Do)
	}
	if err != nil {
		return badInput(errors.New(practiceWords(err)))
	}
	return writeJSON(w, http.StatusOK, map[string]bool{"done": true})
}

// practiceWords are an engine's refusal without the words of its program.
func practiceWords(err error) string {
	words := strings.TrimPrefix(err.Error(), "practice: ")
	if rest, ok := strings.CutPrefix(words, "action "); ok {
		if _, after, found := strings.Cut(rest, ": "); found {
			words = after
		}
	}
	return words
}

func (b *Bench) recordPractice(car *practiceCar, card *job.Card, ask driveAsk) error {
	t, err := b.takes.Begin(take.Head{Key: rand.Text(), Job: int64(card.ID), Sensor: take.Sound, RateHz: practiceRate,
		Place: ask.Place, Regime: ask.Regime, Device: "practice", Began: b.Now()})
	if err != nil {
		return err
	}
	car.mu.Lock()
	defer car.mu.Unlock()
	if car.take != nil {
		b.takes.Remove(t.ID)
		return nil
	}
	car.take, car.next = t, take.Chunk{}
	return nil
}

func (b *Bench) finishPractice(r *http.Request, car *practiceCar) (finishAnswer, error) {
	car.mu.Lock()
	t := car.take
	car.take = nil
	car.mu.Unlock()
	if t == nil {
		return finishAnswer{}, wrong(http.StatusUnprocessableEntity, "nothing is being recorded: start a recording first")
	}
	s, _ := guard.Of(r)
	return b.keepTake(r.Context(), t, s.Name)
}
