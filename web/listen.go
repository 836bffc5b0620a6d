package web

import (
	"net/http"
	"strconv"

	"halforder/finding"
	"halforder/job"
	"halforder/reason/fault"
	"halforder/report"
	"halforder/web/take"
)

// heardBefore is one finding on the card with its plots.
type heardBefore struct {
	Seq   int64
	Name  string
	Found finding.Finding
	Lines []string
}

type listenData struct {
	Drawing   drawing
	Regimes   []choice
	Places    []choice
	Before    []heardBefore
	Unclosed  []takeLine // recordings that nobody finished
	Cautions  []fault.Caution
	Stops     []fault.Caution
	Practice  bool
	Phones    int
	HasPhones bool
}

type takeLine struct {
	ID, Device string
	Sensor     take.Sensor
	Seconds    float64
	Live       bool
}

// places are where a phone lies; the same place before and after makes a proof.
func places() []choice {
	return []choice{{"over the engine", "over the engine", "", true}, {"at the tailpipe", "at the tailpipe", "", false}, {"in the cabin", "in the cabin", "", false}}
}

func (b *Bench) listenPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "listen")
	if err != nil {
		return err
	}
	v := listenData{Drawing: draw(card.Layout()), Places: places(), Practice: p.Practice, HasPhones: b.phoneBase() != ""}
	for _, when := range fault.Regimes() {
		if when != fault.Any {
			v.Regimes = append(v.Regimes, choice{Value: string(when), Words: regimeWords(when), On: when == card.Opened.Regime || card.Opened.Regime == fault.Any && when == fault.Idle})
		}
	}
	if check, err := b.Catalogue.Check("record"); err == nil && !p.Practice {
		v.Cautions, v.Stops = check.Cautions, b.listenStops(card)
	}
	for i := len(card.Findings) - 1; i >= 0; i-- {
		f := card.Findings[i]
		line := heardBefore{Seq: f.Seq, Found: f.What.Finding}
		if rec, ok := card.Recording(f.What.SHA256); ok {
			line.Name = rec.What.Name
		}
		for _, q := range f.What.Finding.Quantities {
			line.Lines = append(line.Lines, report.QuantityText(q))
		}
		line.Lines = append(line.Lines, f.What.Finding.Notes...)
		v.Before = append(v.Before, line)
	}
	v.Unclosed = b.unclosed(card.ID)
	p.Data, p.Scripts = v, []string{"listen.js", "plot.js"}
	return b.show(w, "listen", p)
}

func (b *Bench) unclosed(id job.ID) []takeLine {
	var out []takeLine
	for _, t := range b.takes.List() {
		if job.ID(t.Job) == id {
			out = append(out, takeLine{ID: t.ID, Device: t.Device, Sensor: t.Sensor, Seconds: t.Seconds()})
		}
	}
	return out
}

type sensorData struct {
	Jobs    []*job.Card
	Card    *job.Card
	Places  []choice
	Regimes []choice
	Stops   []fault.Caution
}

// sensorPage is what the phone on the engine shows.
func (b *Bench) sensorPage(w http.ResponseWriter, r *http.Request) error {
	p := b.page(r, "Sensor")
	v := sensorData{Places: places()}
	ids, err := b.Store.Jobs(r.Context())
	if err != nil {
		return err
	}
	wanted, _ := strconv.ParseInt(r.FormValue("job"), 10, 64)
	for _, id := range ids {
		card, err := b.book.Card(r.Context(), id)
		if err != nil {
			return err
		}
		if card.Status == job.StatusClosed {
			continue
		}
		v.Jobs = append(v.Jobs, card)
		if int64(id) == wanted {
			v.Card = card
		}
	}
	if v.Card == nil && len(v.Jobs) == 1 {
		v.Card = v.Jobs[0]
	}
	if v.Card != nil {
		for _, when := range fault.Regimes() {
			if when != fault.Any {
				v.Regimes = append(v.Regimes, choice{Value: string(when), Words: regimeWords(when), On: when == v.Card.Opened.Regime})
			}
		}
		if !b.live.isPractice(v.Card.ID) {
			v.Stops = b.listenStops(v.Card)
		}
	}
	p.Data, p.Scripts = v, []string{"sensor.js"}
	return b.show(w, "sensor", p)
}
