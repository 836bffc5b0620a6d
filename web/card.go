package web

import (
	"cmp"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"halforder/engine"
	"halforder/job"
	"halforder/reason/fault"
	"halforder/web/guard"
)

// card reads the job a request is about.
func (b *Bench) card(r *http.Request) (*job.Card, error) {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil || id < 1 {
		return nil, wrong(http.StatusNotFound, "%q is not the number of a job", r.PathValue("id"))
	}
	return b.book.Card(r.Context(), job.ID(id))
}

// jobView begins a page of a job.
func (b *Bench) jobView(r *http.Request, tab string) (page, *job.Card, error) {
	card, err := b.card(r)
	if err != nil {
		return page{}, nil, err
	}
	p := b.page(r, fmt.Sprintf("Job %d: %s", card.ID, card.Opened.Car))
	p.Card, p.Tab, p.Practice = card, tab, b.live.isPractice(card.ID)
	if seq, err := strconv.ParseInt(r.URL.Query().Get("entry"), 10, 64); err == nil {
		for _, e := range card.History() {
			if e.Seq == seq {
				p.Entry, p.Undoable = &e, card.Active(seq) && seq > 1
			}
		}
	}
	return p, card, nil
}

// enter adds to a job and goes on to a page of it.
func (b *Bench) enter(w http.ResponseWriter, r *http.Request, id job.ID, next string, bodies ...job.Body) error {
	s, _ := guard.Of(r)
	after, err := b.book.Add(r.Context(), id, s.Name, bodies...)
	if err != nil {
		return err
	}
	b.live.changed(after)
	at := after.Last - int64(len(bodies)) + 1
	mark := "?"
	if strings.Contains(next, "?") {
		mark = "&"
	}
	http.Redirect(w, r, fmt.Sprintf("/jobs/%d%s%sentry=%d", id, next, mark, at), http.StatusSeeOther)
	return nil
}

// form reads the fields of a request.
type form struct{ *http.Request }

func readForm(r *http.Request) (form, error) {
	if strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/") {
		return form{r}, r.ParseMultipartForm(guard.BodyLimit)
	}
	return form{r}, r.ParseForm()
}

// text is a trimmed field of at most 2000 characters, with a blank for what cannot be
// printed, but for the ends of lines: a card is read in terminals too.
func (f form) text(name string) string {
	s := []rune(strings.TrimSpace(strings.Map(func(c rune) rune {
		if unicode.IsControl(c) && c != '\n' && c != '\r' {
			return ' '
		}
		return c
	}, f.FormValue(name))))
	return string(s[:min(len(s), 2000)])
}

func (f form) number(name string) (float64, error) {
	text := strings.Replace(f.text(name), ",", ".", 1)
	if text == "" {
		return 0, nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= 0 && v < 1e9) {
		return 0, badInput(fmt.Errorf("%s: %q is not a number from 0 up", fieldWords(name), text))
	}
	return v, nil
}

// whole reads a count or a distance: a mark of thousands taken for a decimal point
// would make 142.000 km a hundred and forty-two.
func (f form) whole(name string) (int, error) {
	text := f.text(name)
	if text == "" {
		return 0, nil
	}
	v, err := strconv.Atoi(text)
	if err != nil || v < 0 || v >= 1e9 {
		return 0, badInput(fmt.Errorf("%s: %q is not a whole number from 0 up, written in digits only", fieldWords(name), text))
	}
	return v, nil
}

// cents reads a sum; with three digits behind the mark it might stand for thousands.
func (f form) cents(name string) (job.Cents, error) {
	text := f.text(name)
	if at := strings.LastIndexAny(text, ".,"); at >= 0 && len(text)-at > 3 {
		return 0, badInput(fmt.Errorf("%s: write %q without marks of thousands, such as 1200 or 64.50", fieldWords(name), text))
	}
	v, err := f.number(name)
	return job.Cents(math.Round(v * 100)), err
}

// fieldWords is a field as its label on the page calls it.
func fieldWords(name string) string {
	words := map[string]string{"km": "driven, km", "every_min": "minutes from miss to miss", "limit": "up to", "cash": "money for parts",
		"before_s": "watched before", "after_s": "watched after"}
	return cmp.Or(words[name], name)
}

func (f form) cylinder(name string) (engine.Cylinder, error) {
	n, err := strconv.Atoi(f.text(name))
	if err != nil {
		return 0, badInput(fmt.Errorf("say at which cylinder"))
	}
	return engine.Cylinder(n), nil
}

// confirmed refuses while a hard stop is not ticked.
func (f form) confirmed(stops []fault.Caution) error { return allTicked(f.Form["stop"], stops) }

// allTicked refuses a step while one of its hard stops is not confirmed.
func allTicked(ticked []string, stops []fault.Caution) error {
	for _, s := range stops {
		if !slices.Contains(ticked, s.Code) {
			return wrong(http.StatusUnprocessableEntity, "look first, then tick the stop: %s", s.Words)
		}
	}
	return nil
}
