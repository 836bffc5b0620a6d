package web

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/finding"
	"halforder/job"
	"halforder/reason/fault"
	"halforder/report"
	"halforder/web/guard"
)

// cardLine is one entry of a job, taken back or not.
type cardLine struct {
	Event  job.Event
	Kind   string
	Words  string
	Active bool
	Undo   bool // it is itself a taking back
}

func (b *Bench) cardPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "card")
	if err != nil {
		return err
	}
	var lines []cardLine
	for _, e := range card.History() {
		_, undo := e.Body.(*job.Undone)
		lines = append(lines, cardLine{Event: e, Kind: kindWords(e.Body), Words: b.words(card, e.Body), Active: card.Active(e.Seq), Undo: undo})
	}
	p.Data = lines
	return b.show(w, "card", p)
}

func (b *Bench) note(w http.ResponseWriter, r *http.Request) error {
	card, f, err := b.withForm(r)
	if err != nil {
		return err
	}
	return b.enter(w, r, card.ID, "/card", &job.Noted{Text: f.text("text")})
}

func (b *Bench) codes(w http.ResponseWriter, r *http.Request) error {
	card, f, err := b.withForm(r)
	if err != nil {
		return err
	}
	if f.text("cleared") != "" {
		return b.enter(w, r, card.ID, "/card", &job.CodesCleared{})
	}
	codes, err := f.codes(card.Layout())
	if err != nil {
		return badInput(err)
	}
	if codes == nil {
		return badInput(errors.New("type the codes as the car gave them, such as P0303, or none"))
	}
	return b.enter(w, r, card.ID, "", &job.Coded{Codes: codes})
}

// codes are the trouble codes typed in a form.
func (f form) codes(l engine.Layout) ([]string, error) {
	return job.ReadCodes(l, strings.FieldsFunc(f.text("codes"), func(c rune) bool { return strings.ContainsRune(" ,;\r\n", c) }))
}

func (b *Bench) undo(w http.ResponseWriter, r *http.Request) error {
	card, f, err := b.withForm(r)
	if err != nil {
		return err
	}
	seq, err := strconv.ParseInt(f.text("entry"), 10, 64)
	if err != nil {
		return badInput(errors.New("say which entry to take back"))
	}
	return b.enter(w, r, card.ID, "/card", &job.Undone{Seq: seq, Why: f.text("why")})
}

type moneyData struct {
	Limit, Cash job.Cents
	Minutes     float64
	Labour      job.Cents // minutes at the catalogue's rate
	Over        bool
	Rate        float64
	Agreements  []job.Stamped[job.Agreed]
}

func (b *Bench) moneyPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "money")
	if err != nil {
		return err
	}
	rate := b.Catalogue.Setting("rate")
	v := moneyData{Limit: agreedLimit(card), Cash: card.Cash, Minutes: card.Minutes, Rate: rate, Agreements: card.Agreements}
	v.Labour = job.Cents(math.Round(card.Minutes / 60 * rate * 100))
	v.Over = v.Limit > 0 && v.Labour+v.Cash > v.Limit
	p.Data = v
	return b.show(w, "money", p)
}

func (b *Bench) agree(w http.ResponseWriter, r *http.Request) error {
	card, f, err := b.withForm(r)
	if err != nil {
		return err
	}
	body := &job.Agreed{Who: f.text("who"), How: f.text("how"), Words: f.text("words")}
	if body.Limit, err = f.cents("limit"); err != nil {
		return err
	}
	return b.enter(w, r, card.ID, "/money", body)
}

type proofData struct {
	Regimes    []choice
	Recordings []job.Stamped[job.Recorded]
	Proofs     []job.Stamped[job.Proved]
	Cautions   []string
}

func (b *Bench) proofPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "proof")
	if err != nil {
		return err
	}
	v := proofData{Proofs: card.Proofs}
	for _, when := range fault.Regimes() {
		v.Regimes = append(v.Regimes, choice{Value: string(when), Words: regimeWords(when), On: when == card.Opened.Regime})
	}
	for _, rec := range card.Recordings {
		if n := len(card.Repairs); n > 0 && rec.Seq > card.Repairs[n-1].Seq {
			v.Recordings = append(v.Recordings, rec)
		}
	}
	p.Data = v
	return b.show(w, "proof", p)
}

func (b *Bench) prove(w http.ResponseWriter, r *http.Request) error {
	card, f, err := b.withForm(r)
	if err != nil {
		return err
	}
	watch, err := f.watch(card)
	if err != nil {
		return badInput(err)
	}
	proved, err := card.Prove(b.Catalogue, watch)
	if err != nil {
		return badInput(err)
	}
	return b.enter(w, r, card.ID, "/proof", proved)
}

// watch is what was seen after the repair: a recording of the card, or by eye
// and ear.
func (f form) watch(card *job.Card) (job.Watch, error) {
	misses, err := f.whole("misses")
	if err != nil {
		return job.Watch{}, err
	}
	if sha := f.text("recording"); sha != "" {
		rec, ok := card.Recording(sha)
		if !ok {
			return job.Watch{}, errors.New("that recording is not on the card")
		}
		w := job.Watch{Regime: rec.What.Regime, WatchedS: rec.What.Seconds, Misses: misses, After: &rec.What}
		w.Finding = findingOf(card, sha)
		if w.Finding == nil {
			return w, errors.New("nothing was found in that recording: make another")
		}
		return w, nil
	}
	minutes, err := f.number("minutes")
	if err != nil {
		return job.Watch{}, err
	}
	if minutes == 0 {
		return job.Watch{}, errors.New("say how long you watched it, or choose a recording")
	}
	regime, err := fault.ParseRegime(f.text("regime"))
	return job.Watch{Regime: regime, WatchedS: 60 * minutes, Misses: misses}, err
}

func findingOf(card *job.Card, sha string) *finding.Finding {
	for i := len(card.Findings) - 1; i >= 0; i-- {
		if card.Findings[i].What.SHA256 == sha {
			return &card.Findings[i].What.Finding
		}
	}
	return nil
}

func (b *Bench) closeJob(w http.ResponseWriter, r *http.Request) error {
	card, f, err := b.withForm(r)
	if err != nil {
		return err
	}
	believed, _ := b.belief(card) // a job whose entries contradict each other can be closed all the same
	return b.enter(w, r, card.ID, "/report", card.Close(b.Catalogue, believed, f.text("cause"), f.text("words")))
}

func (b *Bench) reportPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "report")
	if err != nil {
		return err
	}
	_, p.Data = card.Proven()
	p.Scripts = []string{"report.js"}
	return b.show(w, "report", p)
}

// reportFile is the report by itself, to print, keep or hand over.
func (b *Bench) reportFile(w http.ResponseWriter, r *http.Request) error {
	card, err := b.card(r)
	if err != nil {
		return err
	}
	believed, err := b.belief(card)
	if err != nil {
		believed = nil
	}
	var body bytes.Buffer
	model := report.New(report.Job{Card: card, Catalogue: b.Catalogue, Learned: b.learned(card), Belief: believed, Next: b.stepsNow(card)})
	if err := report.HTML(&body, model); err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Security-Policy", guard.PrintPolicy)
	h.Set("Content-Type", "text/html; charset=utf-8")
	if r.FormValue("keep") != "" {
		h.Set("Content-Disposition", fmt.Sprintf(`attachment; filename="job-%d.html"`, card.ID))
	}
	_, err = w.Write(body.Bytes())
	return err
}
