package web

import (
	"net/http"
	"strings"

	"halforder/job"
	"halforder/reason/belief"
	"halforder/report"
)

// jobLine is one job in the list.
type jobLine struct {
	Card     *job.Card
	Open     bool
	Practice bool
}

type jobsView struct {
	Query    string
	Open     []jobLine
	Closed   []jobLine
	Paired   int
	HasPhone bool
}

func (b *Bench) jobsPage(w http.ResponseWriter, r *http.Request) error {
	v := jobsView{Query: strings.TrimSpace(r.FormValue("find")), Paired: len(b.sessions.List()), HasPhone: b.phoneBase() != ""}
	ids, err := b.Store.Jobs(r.Context())
	if err != nil {
		return err
	}
	for _, id := range ids {
		card, err := b.book.Card(r.Context(), id)
		if err != nil {
			return err
		}
		if !matches(card, v.Query) {
			continue
		}
		line := jobLine{card, card.Status != job.StatusClosed, b.live.isPractice(id)}
		if line.Open {
			v.Open = append(v.Open, line)
		} else {
			v.Closed = append(v.Closed, line)
		}
	}
	p := b.page(r, "Jobs")
	p.Data = v
	return b.show(w, "jobs", p)
}

// matches reports whether every word of a query stands somewhere on a card.
func matches(c *job.Card, query string) bool {
	o := c.Opened
	text := strings.ToLower(strings.Join(append([]string{o.Car, o.Customer, o.Words, string(o.Complaint), string(c.Status), o.Engine.Title()}, c.Codes...), " "))
	if c.Closing != nil {
		text += " " + strings.ToLower(c.Closing.What.Cause)
	}
	for word := range strings.FieldsSeq(strings.ToLower(query)) {
		if !strings.Contains(text, word) {
			return false
		}
	}
	return true
}

// jobData is the first page of a job.
type jobData struct {
	Report   report.Report
	Drawing  drawing
	Claims   []report.Claim
	Confirm  bool // the numbering waits to be confirmed
	Limit    job.Cents
	Watch    *job.Swap // a swap whose outcome is not entered
	Contrary string    // entries that cannot be true together
}

func (b *Bench) jobPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "now")
	if err != nil {
		return err
	}
	v := jobData{Drawing: draw(card.Layout()), Confirm: card.Status != job.StatusClosed && !card.NumberingConfirmed(), Limit: agreedLimit(card), Watch: unwatched(card)}
	believed, err := b.belief(card)
	if err != nil {
		v.Contrary, believed = err.Error(), nil
	}
	if believed != nil {
		v.Drawing = v.Drawing.withBelief(card, believed)
	}
	v.Report = report.New(report.Job{Card: card, Catalogue: b.Catalogue, Learned: b.learned(card), Belief: believed})
	v.Claims = v.Report.Believed[:min(len(v.Report.Believed), 4)]
	p.Data, p.Scripts = v, []string{"next.js"}
	return b.show(w, "job", p)
}

func unwatched(card *job.Card) *job.Swap {
	for i := range card.Swaps {
		if card.Swaps[i].Watched == nil {
			return &card.Swaps[i]
		}
	}
	return nil
}

// agreedLimit is the sum last agreed.
func agreedLimit(card *job.Card) job.Cents {
	if n := len(card.Agreements); n > 0 {
		return card.Agreements[n-1].What.Limit
	}
	return 0
}

type cylinderData struct {
	N       int
	Drawn   drawnCylinder
	Causes  []belief.Suspect
	Checks  []checkLine
	Hard    bool
	Entries []report.Entry
}

func (b *Bench) cylinderPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "now")
	if err != nil {
		return err
	}
	n, err := cylinderOf(card, r.PathValue("n"))
	if err != nil {
		return err
	}
	believed, err := b.belief(card)
	if err != nil {
		return badInput(err)
	}
	v := cylinderData{N: int(n), Hard: card.Car().HardAt(n), Causes: suspectsAt(card, believed, n)}
	d := draw(card.Layout()).withBelief(card, believed).withParts(card, kinds(card)...)
	d.each(func(c *drawnCylinder) {
		if c.N == n {
			v.Drawn = *c
		}
	})
	for _, line := range b.checkLines(card) {
		if line.Scope == "cylinder" || line.Scope == "each" {
			v.Checks = append(v.Checks, line)
		}
	}
	p.Data = v
	return b.show(w, "cylinder", p)
}
