package web

import (
	"net/http"

	"halforder/job"
	"halforder/measure/catalyst"
	"halforder/measure/cutout"
	"halforder/reason/fault"
	"halforder/web/guard"
	"halforder/web/take"
)

type cutData struct {
	Drawing  drawing
	Ways     []choice
	Cautions []fault.Caution
	Stops    []fault.Caution
	Setting  string // how the catalyst is protected
	Practice bool
	Source   string // what is heard; empty: nothing
	Running  bool
	Before   []heardBefore
}

func (b *Bench) cutPage(w http.ResponseWriter, r *http.Request) error {
	p, card, err := b.jobView(r, "cut")
	if err != nil {
		return err
	}
	v := cutData{Drawing: draw(card.Layout()), Practice: p.Practice, Setting: catalyst.Careful.Departure(), Source: b.cutSource(card.ID)}
	port := card.Opened.Injection == fault.Port
	v.Ways = []choice{{string(cutout.InjectorLive), "injector plugs", "no fuel reaches the catalyst", port}, {string(cutout.CoilLive), "coil plugs", "unburnt fuel heats the catalyst", !port}}
	if check, err := b.Catalogue.Check("cut"); err == nil {
		v.Cautions, v.Stops = liveCut(check.Cautions), stopsFor(card, check.Stops)
	}
	room := b.live.of(card.ID)
	room.mu.Lock()
	v.Running = room.cut != nil
	room.mu.Unlock()
	for i := len(card.Findings) - 1; i >= 0; i-- {
		if f := card.Findings[i]; f.What.Finding.Analysis == cutout.Version {
			v.Before = append(v.Before, heardBefore{Seq: f.Seq, Found: f.What.Finding, Lines: f.What.Finding.Notes})
		}
	}
	p.Data, p.Scripts = v, []string{"cut.js", "plot.js"}
	return b.show(w, "cut", p)
}

// liveCut are the cautions where plugs are taken off a running engine: what is
// said of an ignition switched off does not fit this way of cutting.
func liveCut(all []fault.Caution) []fault.Caution {
	out := []fault.Caution{
		{Code: "warm", Words: "Engine warm and at idle, fans and other loads steady, auto-stop off."},
		{Code: "housing", Words: "Pull the low-voltage plug by its housing. Never lift a coil or a lead while the engine turns: the spark finds you."},
	}
	for _, c := range all {
		if c.Code != "keyoff" && c.Code != "spark" {
			out = append(out, c)
		}
	}
	return out
}

// cutSource says what a cut-out test of a job would listen to.
func (b *Bench) cutSource(id job.ID) string {
	if b.live.isPractice(id) {
		return "the practice engine's speed and air"
	}
	if t := b.soundTake(id); t != nil {
		name := t.Device
		if name == "" {
			name = "a device"
		}
		return "the sound from " + name
	}
	return ""
}

// soundTake is the sound under way on a job, the latest begun.
func (b *Bench) soundTake(id job.ID) *take.Take {
	var out *take.Take
	for _, t := range b.takes.List() {
		if job.ID(t.Job) == id && t.Sensor == take.Sound {
			out = t
		}
	}
	return out
}

type cutAsk struct {
	Means string   `json:"means"`
	Stops []string `json:"stops"`
}

// cutDo starts, or breaks off, the hands-free test.
func (b *Bench) cutDo(w http.ResponseWriter, r *http.Request) error {
	card, err := b.card(r)
	if err != nil {
		return err
	}
	room := b.live.of(card.ID)
	switch r.PathValue("do") {
	case "start":
		var ask cutAsk
		if err := readJSON(r, &ask); err != nil {
			return err
		}
		if err := b.startCut(r, room, card, ask); err != nil {
			return err
		}
	case "stop":
		room.mu.Lock()
		run := room.cut
		room.mu.Unlock()
		if run == nil {
			return wrong(http.StatusUnprocessableEntity, "no cut-out test is running")
		}
		go run.breakOff()
	default:
		return wrong(http.StatusNotFound, "a cut-out test can be started and stopped")
	}
	return writeJSON(w, http.StatusOK, map[string]bool{"done": true})
}

func (b *Bench) startCut(r *http.Request, room *room, card *job.Card, ask cutAsk) error {
	means, err := cutout.ParseMeans(ask.Means)
	if err != nil {
		return badInput(err)
	}
	if check, err := b.Catalogue.Check("cut"); err == nil {
		if err := allTicked(ask.Stops, stopsFor(card, check.Stops)); err != nil {
			return err
		}
	}
	if card.Layout().N() < 2 {
		return wrong(http.StatusUnprocessableEntity, "an engine of one cylinder stops when it is cut")
	}
	s, _ := guard.Of(r)
	run, err := b.newCutRun(room, card, means, s.Name)
	if err != nil {
		return err
	}
	room.mu.Lock()
	if room.cut != nil {
		room.mu.Unlock()
		return wrong(http.StatusConflict, "a cut-out test is running already")
	}
	room.cut = run
	room.mu.Unlock()
	go run.run()
	return nil
}
