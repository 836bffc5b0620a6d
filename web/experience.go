package web

import (
	"context"
	"sync"

	"halforder/job"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

// judged is what a card is judged by: the catalogue, moved by earlier jobs.
type judged struct {
	once      sync.Once
	catalogue *fault.Catalogue
	learned   int
	err       error
}

// mostJudged bounds the memory taken; what a card is judged by does not change.
const mostJudged = 64

func (b *Bench) judging(card *job.Card) (*judged, error) {
	j, _ := b.judgedBy.begin(card.ID, &judged{})
	j.once.Do(func() {
		j.catalogue, j.learned, j.err = b.book.Catalogue(context.Background(), b.Catalogue, card)
	})
	if j.err != nil {
		b.judgedBy.forget(card.ID)
	}
	return j, j.err
}

// belief is what a card's entries say; the error names those that cannot be true
// together.
func (b *Bench) belief(card *job.Card) (*belief.Belief, error) {
	j, err := b.judging(card)
	if err != nil {
		return nil, err
	}
	return card.Belief(j.catalogue)
}

// learned is how many earlier jobs moved what a card is judged by.
func (b *Bench) learned(card *job.Card) int {
	j, err := b.judging(card)
	if err != nil {
		return 0
	}
	return j.learned
}
