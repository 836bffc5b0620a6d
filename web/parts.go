package web

import (
	"fmt"
	"net/http"
	"slices"

	"halforder/job"
	"halforder/reason/belief"
	"halforder/reason/fault"
)

type partsData struct {
	Drawing  drawing
	Kinds    []choice
	Kind     fault.PartKind
	Numbers  []int
	Watch    *job.Swap
	Cautions []fault.Caution
	Stops    []fault.Caution
	Repair   *fault.Repair
	Parts    []belief.Share // likeliest bad parts
	From     int            // cylinder to begin with
	To       int
}

func (b *Bench) partsPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "parts")
	if err != nil {
		return err
	}
	kind, err := kindOf(card, r.FormValue("kind"))
	if err != nil {
		return err
	}
	v := partsData{Kind: kind, Watch: unwatched(card), Drawing: draw(card.Layout()).withParts(card, kind)}
	for _, k := range kinds(card) {
		v.Kinds = append(v.Kinds, choice{Value: string(k), Words: string(k), On: k == kind})
	}
	for _, c := range card.Layout().Cylinders() {
		v.Numbers = append(v.Numbers, int(c))
	}
	if check, err := b.Catalogue.SwapCheck(kind, card.Opened.Ignition, card.Opened.Injection); err == nil {
		v.Cautions, v.Stops = check.Cautions, stopsFor(card, check.Stops)
	}
	for _, repair := range b.Catalogue.Repairs() {
		if string(repair.Renews) == string(kind) && repair.Fits(card.Opened.Ignition, card.Opened.Injection) {
			v.Repair = repair
		}
	}
	if believed, err := b.belief(card); err == nil {
		v.Drawing = v.Drawing.withBelief(card, believed)
		v.Parts = likelyParts(card, believed)
	}
	v.From, v.To = asked(card, r.FormValue("from")), asked(card, r.FormValue("to"))
	p.Data, p.Scripts = v, []string{"parts.js"}
	return b.show(w, "parts", p)
}

// likelyParts are the parts most likely bad, and of those no longer in the car that
// they are not.
func likelyParts(card *job.Card, b *belief.Belief) []belief.Share {
	shares := slices.Clone(b.Parts())
	shares = shares[:min(len(shares), 5)]
	for i, s := range shares {
		inCar := slices.ContainsFunc(kinds(card), func(k fault.PartKind) bool { return len(card.Seating.Where(k, fault.PartID(s.Name))) > 0 })
		if !inCar {
			shares[i].Name += ", out of the car"
		}
	}
	return shares
}

// asked is a cylinder number from a link, 0 for none.
func asked(card *job.Card, text string) int {
	if c, err := cylinderOf(card, text); err == nil {
		return int(c)
	}
	return 0
}

func kindOf(card *job.Card, text string) (fault.PartKind, error) {
	all := kinds(card)
	if text == "" {
		return all[0], nil
	}
	if kind := fault.PartKind(text); slices.Contains(all, kind) {
		return kind, nil
	}
	return "", wrong(http.StatusNotFound, "this car has no part of the kind %q", text)
}

// withForm reads job and form of a request that changes something.
func (b *Bench) withForm(r *http.Request) (*job.Card, form, error) {
	card, err := b.card(r)
	if err != nil {
		return nil, form{}, err
	}
	f, err := readForm(r)
	return card, f, badInput(err)
}

func (b *Bench) swap(w http.ResponseWriter, r *http.Request) error {
	card, f, err := b.withForm(r)
	if err != nil {
		return err
	}
	kind, err := kindOf(card, f.text("kind"))
	if err != nil {
		return err
	}
	check, err := b.Catalogue.SwapCheck(kind, card.Opened.Ignition, card.Opened.Injection)
	if err == nil {
		err = f.confirmed(stopsFor(card, check.Stops))
	}
	if err != nil {
		return badInput(err)
	}
	body := &job.Swapped{Part: kind}
	if body.A, err = f.cylinder("a"); err != nil {
		return err
	}
	if body.B, err = f.cylinder("b"); err != nil {
		return err
	}
	if body.Minutes, err = f.number("minutes"); err != nil {
		return err
	}
	for _, along := range f.Form["along"] {
		k, err := kindOf(card, along)
		if err != nil {
			return err
		}
		if k != kind {
			body.Along = append(body.Along, k)
		}
	}
	return b.enter(w, r, card.ID, "/parts?kind="+string(kind), body)
}

func (b *Bench) watchSwap(w http.ResponseWriter, r *http.Request) error {
	card, f, err := b.withForm(r)
	if err != nil {
		return err
	}
	swap := unwatched(card)
	if swap == nil {
		return wrong(http.StatusUnprocessableEntity, "no swap waits for its outcome")
	}
	body := &job.SwapWatched{Swap: swap.Seq, Outcome: belief.Follow(f.text("outcome")), Before: belief.Presence(f.text("before"))}
	if !slices.Contains(belief.FollowValues(), body.Outcome) {
		return badInput(fmt.Errorf("say what the miss did: follows, stays, vanishes or both"))
	}
	if body.Before != belief.Present && body.Before != belief.Absent {
		body.Before = belief.Unknown
	}
	if body.BeforeS, err = f.number("before_s"); err != nil {
		return err
	}
	if body.AfterS, err = f.number("after_s"); err != nil {
		return err
	}
	if body.Regime, err = fault.ParseRegime(f.text("regime")); err != nil {
		return badInput(err)
	}
	return b.enter(w, r, card.ID, "", body)
}

func (b *Bench) renew(w http.ResponseWriter, r *http.Request) error {
	card, f, err := b.withForm(r)
	if err != nil {
		return err
	}
	kind, err := kindOf(card, f.text("kind"))
	if err != nil {
		return err
	}
	at, err := f.cylinder("at")
	if err != nil {
		return err
	}
	body := &job.Repaired{Part: kind, Cylinder: at, NewPart: card.NewPartID(kind), Words: f.text("words")}
	if body.Minutes, err = f.number("minutes"); err != nil {
		return err
	}
	if body.Cash, err = f.cents("cash"); err != nil {
		return err
	}
	return b.enter(w, r, card.ID, "/parts?kind="+string(kind), body)
}

func (b *Bench) mend(w http.ResponseWriter, r *http.Request) error {
	card, f, err := b.withForm(r)
	if err != nil {
		return err
	}
	body := &job.Repaired{Words: f.text("words")}
	if body.Minutes, err = f.number("minutes"); err != nil {
		return err
	}
	if body.Cash, err = f.cents("cash"); err != nil {
		return err
	}
	return b.enter(w, r, card.ID, "/money", body)
}
