package web

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"halforder/engine"
	"halforder/finding"
	"halforder/job"
	"halforder/measure/cutout"
	"halforder/reason/fault"
	"halforder/web/guard"
)

// tableLimit is the size of a table sent by the column picker, in bytes: half
// a million rows of two numbers.
const tableLimit = 16 << 20

type filesData struct {
	Regimes []choice
	Places  []choice
	Numbers string // the cylinders, as an example of what was cut
}

func (b *Bench) filesPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "files")
	if err != nil {
		return err
	}
	v := filesData{Places: places(), Numbers: strings.Trim(fmt.Sprint(card.Layout().Cylinders()), "[]")}
	for _, when := range fault.Regimes() {
		v.Regimes = append(v.Regimes, choice{Value: string(when), Words: regimeWords(when), On: when == card.Opened.Regime})
	}
	p.Data, p.Scripts = v, []string{"files.js"}
	return b.show(w, "files", p)
}

// tableAsk is two columns of a table as somebody picked them.
type tableAsk struct {
	Name   string    `json:"name"`
	T      []float64 `json:"t"` // s
	RPM    []float64 `json:"rpm"`
	Cut    string    `json:"cut"` // which cylinders were cut, in order: "1 3 4 2"
	Regime string    `json:"regime"`
}

// enterTable judges engine speed against time as a cut-out test.
func (b *Bench) enterTable(w http.ResponseWriter, r *http.Request) error {
	card, err := b.card(r)
	if err != nil {
		return err
	}
	var ask tableAsk
	if err := readJSON(r, &ask); err != nil {
		return err
	}
	rec, err := ask.recording(card.Layout())
	if err != nil {
		return badInput(err)
	}
	regime, err := fault.ParseRegime(ask.Regime)
	if err != nil {
		return badInput(err)
	}
	result, err := cutout.Analyse(rec)
	if err != nil {
		return badInput(err)
	}
	s, _ := guard.Of(r)
	answer, err := b.keepTable(r, card, s.Name, ask, rec, result.Finding(), regime)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, answer)
}

func (a tableAsk) recording(l engine.Layout) (cutout.Recording, error) {
	rec := cutout.Recording{Layout: l, Speed: cutout.Track{T: a.T, Y: a.RPM}}
	if len(a.T) != len(a.RPM) {
		return rec, errors.New("the two columns differ in length")
	}
	for i := range a.T {
		if math.IsInf(a.T[i], 0) || math.IsNaN(a.T[i]) || !(a.RPM[i] >= 0 && a.RPM[i] < 20000) {
			return rec, fmt.Errorf("row %d: %g s and %g rpm cannot be: pick other columns", i+1, a.T[i], a.RPM[i])
		}
	}
	for word := range strings.FieldsFuncSeq(a.Cut, func(c rune) bool { return c == ' ' || c == ',' || c == '-' }) {
		n, err := strconv.Atoi(word)
		if err != nil {
			return rec, fmt.Errorf("cut cylinders: %q is not a number, write them in order, such as 1 3 4 2", word)
		}
		if err := l.Check(engine.Cylinder(n)); err != nil {
			return rec, err
		}
		rec.Called = append(rec.Called, []engine.Cylinder{engine.Cylinder(n)})
	}
	return rec, nil
}

func (b *Bench) keepTable(r *http.Request, card *job.Card, by string, ask tableAsk, rec cutout.Recording, f finding.Finding, regime fault.Regime) (finishAnswer, error) {
	var table bytes.Buffer
	out := csv.NewWriter(&table)
	out.Write([]string{"t_s", "speed_rpm"})
	for i := range rec.Speed.T {
		out.Write([]string{strconv.FormatFloat(rec.Speed.T[i], 'g', 9, 64), strconv.FormatFloat(rec.Speed.Y[i], 'g', 7, 64)})
	}
	out.Flush()
	sum, size, err := b.Store.SaveRecording(r.Context(), &table)
	if err != nil {
		return finishAnswer{}, err
	}
	seconds := rec.Speed.T[len(rec.Speed.T)-1] - rec.Speed.T[0]
	recorded := &job.Recorded{SHA256: sum, Bytes: size, Name: plainName(ask.Name), Sensor: "cut-out", RateHz: float64(len(rec.Speed.T)) / math.Max(seconds, 1e-3), Seconds: seconds, Regime: regime}
	after, err := b.book.Add(r.Context(), card.ID, by, recorded, &job.Found{SHA256: sum, Finding: f})
	if err != nil {
		return finishAnswer{}, err
	}
	b.live.changed(after)
	return finishAnswer{f.Sentence, seconds, after.Last}, nil
}

// plainName takes everything out of a file's name that could be a path or a
// control.
func plainName(name string) string {
	name = strings.Map(func(c rune) rune {
		if c < ' ' || c == 0x7f {
			return -1
		}
		return c
	}, name)
	if i := strings.LastIndexAny(name, `/\`); i >= 0 {
		name = name[i+1:]
	}
	name = strings.TrimLeft(name, ". ")
	if r := []rune(name); len(r) > 80 {
		name = string(r[:80])
	}
	if name == "" {
		return "file"
	}
	return name
}

// bodyLimit is what a route may be sent.
func bodyLimit(r *http.Request) int64 {
	if strings.HasSuffix(r.URL.Path, "/table") {
		return tableLimit
	}
	return guard.BodyLimit
}
