package web

import (
	"maps"
	"slices"
	"time"

	"halforder/engine"
	"halforder/finding"
	"halforder/job"
	"halforder/measure/order"
	"halforder/web/take"
)

// sensorNames are how a joined finding calls its sensors.
var sensorNames = map[take.Sensor]string{take.Sound: "sound", take.Motion: "motion"}

// keptTake is a take that has come onto the card: another sensor that ran at the
// same time is joined with it.
type keptTake struct {
	sensor       take.Sensor
	began, ended time.Time
	entry        int64 // of its finding
	sha256       string
	found        finding.Finding
}

const (
	togetherShare = 0.6 // of the shorter take that must have run beside the other
	mostKept      = 16
)

func (k keptTake) beside(o keptTake) bool {
	from, to := k.began, k.ended
	if o.began.After(from) {
		from = o.began
	}
	if o.ended.Before(to) {
		to = o.ended
	}
	shorter := min(k.ended.Sub(k.began), o.ended.Sub(o.began))
	return k.sensor != o.sensor && shorter > 0 && to.Sub(from).Seconds() >= togetherShare*shorter.Seconds()
}

// joined looks for what another sensor found at the same time, and joins both:
// the finding of the one alone is taken back, so that nothing counts twice. The
// joint one stands by the sound. Without a partner it gives the finding itself.
func (r *room) joined(k keptTake, card *job.Card) []job.Body {
	alone := []job.Body{&job.Found{SHA256: k.sha256, Finding: k.found}}
	other, ok := r.partner(k, card)
	if !ok {
		return alone
	}
	sound, motion := k, other
	if k.sensor == take.Motion {
		sound, motion = other, k
	}
	both, err := fuse(card.Layout(), sound.found, motion.found)
	if err != nil {
		return alone
	}
	return []job.Body{&job.Undone{Seq: other.entry, Why: "joined with what the other sensor found"}, &job.Found{SHA256: sound.sha256, Finding: both}}
}

func fuse(layout engine.Layout, sound, motion finding.Finding) (finding.Finding, error) {
	return order.Fuse(layout, order.Sensed{Sensor: sensorNames[take.Sound], Finding: sound}, order.Sensed{Sensor: sensorNames[take.Motion], Finding: motion})
}

func (r *room) partner(k keptTake, card *job.Card) (keptTake, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, o := range slices.Backward(r.kept) {
		stands := slices.ContainsFunc(card.Findings, func(f job.Stamped[job.Found]) bool { return f.Seq == o.entry })
		if stands && k.found.Likelihood != nil && o.found.Likelihood != nil && k.beside(o) {
			return o, true
		}
	}
	return keptTake{}, false
}

// keep remembers a take that stands on the card by itself.
func (r *room) keep(k keptTake) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.kept = append(r.kept, k)
	if len(r.kept) > mostKept {
		r.kept = r.kept[1:]
	}
}

// freshFor is how long a live finding may be joined with another.
const freshFor = 2 * time.Second

// current is the newest live finding of one kind of sensor.
type current struct {
	found finding.Finding
	at    time.Time
}

// together joins what is heard and felt now, and says it.
func (r *room) together(kind string, m meter, layout engine.Layout) {
	r.mu.Lock()
	r.now[kind] = current{m.found, time.Now()}
	now := maps.Clone(r.now)
	r.mu.Unlock()
	sound, motion := now["meter"], now["felt"]
	if kind != "felt" || sound.found.Likelihood == nil || motion.found.Likelihood == nil || time.Since(sound.at) > freshFor {
		return
	}
	both, err := fuse(layout, sound.found, motion.found)
	if err != nil {
		return
	}
	j := meter{Take: m.Take, Samples: m.Samples, Over: m.Over}
	j.fill(both)
	j.Cycle, j.Marks, j.Strength = nil, nil, nil
	r.say("joined", j)
}
