package crank

import (
	"fmt"
	"slices"

	"halforder/engine"
	"halforder/finding"
)

// Version names the analysis in findings.
const Version = "crank/1"

// How sure the mean cycle must be before it speaks.
const (
	sureMisfire = 0.92
	sureNone    = 0.95 // that no cylinder is dead
	sureSlot    = 0.90
)

// likelyDead is the share of the belief in "low" that "dead" must hold: neither
// short recordings nor engines of unknown flywheel tell dead from nearly dead,
// and both are a misfire.
const likelyDead = 0.35

// fewestMisses are needed before single misses are called a misfire: one bad
// firing a minute is no complaint.
const fewestMisses = 3

// leastShare is the least share of a cylinder's firings that counts as a
// misfire: 1 % is the floor of the emission rule (from memory).
const leastShare = 0.01

// Windows in crank turns over which the law counts (common practice).
const (
	catalystTurns = 200
	emissionTurns = 1000
)

func (a *analysis) result() *Result {
	r := &Result{Wheel: a.clock.wheel}
	for _, e := range a.clock.camEdges {
		r.Cam = append(r.Cam, wrapCycle(e-a.clock.camRef))
	}
	slices.Sort(r.Cam)
	r.Firings = make([]Firing, 0, len(a.weighed))
	for i := range a.weighed {
		w := &a.weighed[i]
		work := 1 + float64(w.excess) - a.misses.centre
		r.Firings = append(r.Firings, Firing{w.at, engine.RPM(w.rpm), a.positionOf(int(w.slot)), work, w.miss})
		if w.miss {
			r.Misses = append(r.Misses, Miss{w.at, a.positionOf(int(w.slot)), a.slotName(int(w.slot)), work})
		}
	}
	r.Stumbles = a.stumbles()
	a.stumbled = len(r.Stumbles)
	if dead := a.deadSlots(); !a.byStarter() {
		r.dead, r.missing = a.namedOnly(dead), a.namedOnly(a.missingSlots(dead))
	}
	r.Finding = a.finding()
	return r
}

// Dead are the cylinders that surely give no work; empty when they cannot be
// named.
func (r *Result) Dead() []engine.Cylinder { return r.dead }

// Missing are the cylinders with clear single misses apart from those, likewise.
func (r *Result) Missing() []engine.Cylinder { return r.missing }

// namedOnly are the cylinders of slots when each has just one name.
func (a *analysis) namedOnly(slots []int) []engine.Cylinder {
	var out []engine.Cylinder
	for _, k := range slots {
		if c := a.cylindersOf(k); len(c) == 1 {
			out = append(out, c[0])
		}
	}
	return out
}

func (a *analysis) finding() finding.Finding {
	f := finding.Finding{Analysis: Version, Likelihood: a.likelihood()}
	if a.byStarter() {
		f.Likelihood = nil
	}
	f.Verdict, f.Sentence = a.verdict()
	f.Sentence = a.asFitted(f.Sentence)
	f.Quantities = a.quantities()
	f.Series = a.series()
	f.Notes = a.remarks()
	return f
}

// tally is how often each slot fired and missed.
type tally struct{ fired, missed int }

func (a *analysis) tallies() []tally {
	if a.tallied != nil {
		return a.tallied
	}
	out := make([]tally, len(a.tops))
	a.tallied = out
	for i := range a.weighed {
		t := &out[a.weighed[i].slot]
		t.fired++
		if a.weighed[i].miss {
			t.missed++
		}
	}
	return out
}

func (t tally) share() float64 {
	if t.fired == 0 {
		return 0
	}
	return float64(t.missed) / float64(t.fired)
}

// verdict says what the mean cycle and the single misses show together.
func (a *analysis) verdict() (finding.Verdict, string) {
	if a.byStarter() {
		return finding.CannotTell, fmt.Sprintf("At %.0f rpm the starter is turning the engine: that tells compression, not misfire. Analyse it as cranking.", a.mainJudgement().rpm)
	}
	dead, weak := a.deadSlots(), a.lowSlots(finding.Weak)
	missing := a.missingSlots(dead)
	steady := 1 - a.post.healthy()
	switch {
	case len(dead) > 0:
		s := fmt.Sprintf("%s gives little work or none: it misses all the time.", upper(a.phrases(dead)))
		if len(missing) > 0 {
			s += fmt.Sprintf(" %s misses now and then.", upper(a.phrases(missing)))
		}
		return finding.Misfire, s
	case len(missing) > 0:
		return finding.Misfire, a.missSentence(missing)
	case steady > sureMisfire && len(weak) > 0:
		return finding.CannotTell, fmt.Sprintf("%s gives clearly less work than the others, but does not miss outright.", upper(a.phrases(weak)))
	case steady > sureMisfire:
		return finding.Misfire, "A cylinder is missing, but which cannot be told: " + a.rivals()
	case a.stumbled >= fewestMisses:
		return finding.Misfire, fmt.Sprintf("The engine stumbled %d times: sudden losses of speed, each soon made good.", a.stumbled)
	case a.post.anyDead() < 1-sureNone && len(a.weighed) > 0:
		if doubt := a.doubt(); doubt != "" {
			return finding.CannotTell, doubt
		}
		return finding.NoMisfire, a.healthySentence()
	}
	if steady > worthNaming {
		return finding.CannotTell, "Probably a cylinder gives too little work, but the crank speed does not make sure: " + a.rivals() + a.advice()
	}
	return finding.CannotTell, "The crank speed does not tell whether a cylinder is missing here. Record again, warm, at idle and at 2000 to 3000 rpm, with the crank and the cam sensor."
}

// worthNaming is the belief that not all work from which what may be wrong is said
// though nothing is sure.
const worthNaming = 0.75

// advice is which recording would tell more: what a heavy flywheel hides at idle
// shows when the engine turns faster, and pulls.
func (a *analysis) advice() string {
	if a.mainJudgement().rpm < nearIdle {
		return " Record at 2000 to 3000 rpm too, best while the engine pulls."
	}
	return " Record at idle too."
}

// worthSaying is the share of misses below which what a recording may have hidden
// is not worth a sentence.
const worthSaying = 0.02

// healthySentence says how alike the cylinders are when none is dead.
func (a *analysis) healthySentence() string {
	s := "No cylinder is missing: all work alike"
	if a.post.healthy() < sureSlot {
		s = "No cylinder is missing; whether one is a little weak this recording does not tell"
	}
	if n := a.someMisses(); n > 0 {
		s += fmt.Sprintf(". %d of %d firings looked weak, too few to call it a misfire", n, len(a.weighed))
	}
	if share := a.unseenShare(); share > worthSaying {
		s += fmt.Sprintf(". In so short a recording one that misses in %.0f %% of its firings or fewer may not have shown", 100*share)
	}
	return s + "."
}

// noEngineRuns is the speed below which no engine runs by itself, rpm.
const noEngineRuns = 380

// byStarter reports whether the starter turns the engine.
func (a *analysis) byStarter() bool { return a.mainJudgement().rpm < noEngineRuns }

// lowSlots are the slots that surely give less than they should; asked for dead
// ones, those of them that more likely give nothing at all.
func (a *analysis) lowSlots(s finding.State) []int {
	var out []int
	for k := range a.tops {
		dead, low := a.post.chance(k)
		if low > sureSlot && (s == finding.Weak || dead > likelyDead*low) {
			out = append(out, k)
		}
	}
	return out
}

// alwaysMissing is the share of misses from which a cylinder counts as dead.
const alwaysMissing = 0.9

// deadSlots are the slots that surely give no work: by the mean cycle, or
// because nearly each firing was missed.
func (a *analysis) deadSlots() []int {
	var out []int
	steady := a.steadilyDead()
	for k, t := range a.tallies() {
		counted := t.missed >= 10*fewestMisses && t.share() > alwaysMissing
		if slices.Contains(steady, k) || counted {
			out = append(out, k)
		}
	}
	return out
}

// steadilyDead are the slots that the mean cycle surely calls dead.
func (a *analysis) steadilyDead() []int {
	if a.post.healthy() > 1-sureMisfire {
		return nil
	}
	return a.lowSlots(finding.Dead)
}

// missingSlots are the slots with clear single misses, apart from dead ones:
// more than noise makes and more than the misses of their neighbours explain.
func (a *analysis) missingSlots(dead []int) []int {
	if !a.misses.clear {
		return nil
	}
	var out []int
	for k, t := range a.tallies() {
		if t.missed >= fewestMisses && t.share() >= leastShare && !slices.Contains(dead, k) && byChance(t.missed, a.expectedMisses(k)) < luck {
			out = append(out, k)
		}
	}
	return out
}

func (a *analysis) someMisses() int {
	n := 0
	for _, t := range a.tallies() {
		n += t.missed
	}
	return n
}

func (a *analysis) phrases(slots []int) string {
	var parts []string
	for _, k := range slots {
		parts = append(parts, a.slotPhrase(k))
	}
	return joinWords(parts)
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}

func (a *analysis) missSentence(slots []int) string {
	t := a.tallies()
	worst := slots[0]
	for _, k := range slots {
		if t[k].share() > t[worst].share() {
			worst = k
		}
	}
	if len(slots) == 1 {
		return fmt.Sprintf("%s misses in %.3g %% of its firings, the others do not.", upper(a.slotPhrase(worst)), 100*t[worst].share())
	}
	return fmt.Sprintf("Misfire in %s; most in %s: %.3g %% of its firings.", a.phrases(slots), a.slotPhrase(worst), 100*t[worst].share())
}

// rivals names the patterns that stay possible.
func (a *analysis) rivals() string {
	var parts []string
	for p, w := range a.post.p {
		if w > 0.05 {
			parts = append(parts, fmt.Sprintf("%s (%.0f %%)", a.describePattern(p), 100*w))
		}
	}
	return joinWords(parts) + "."
}

func (a *analysis) describePattern(p slotPattern) string {
	var dead, weak []int
	for k, s := range []byte(p) {
		switch finding.State(s) {
		case finding.Dead:
			dead = append(dead, k)
		case finding.Weak:
			weak = append(weak, k)
		}
	}
	switch {
	case len(dead)+len(weak) == 0:
		return "all work"
	case len(weak) == 0:
		return a.phrases(dead) + " dead"
	case len(dead) == 0:
		return a.phrases(weak) + " weak"
	}
	return a.phrases(dead) + " dead with " + a.phrases(weak) + " weak"
}

func (a *analysis) remarks() []string {
	notes := slices.Clone(a.notes)
	if a.stumbled > 0 {
		notes = append(notes, fmt.Sprintf("%d stumbles: sudden losses of a tenth of the speed or more. Several misses in a row or a spark far too early do this.", a.stumbled))
	}
	if s := a.strength(); s != "" {
		notes = append(notes, s)
	}
	c := a.clock
	notes = append(notes, fmt.Sprintf("Wheel %s, marks at %s° of a turn.", c.wheel, shortList(c.wheel.Angles)))
	if d := c.decoded; d.spurious+d.missed+d.lost > 0 {
		notes = append(notes, fmt.Sprintf("%d spurious pulses left out, %d missed marks filled in, wheel found anew %d times.", d.spurious, d.missed, d.lost))
	}
	switch {
	case a.how == anonymous && c.hasRef:
		notes = append(notes, "No cylinder can be named: say where one cylinder fires after the cam's reference edge, or cut one known cylinder and record again.")
	case a.how == anonymous:
		notes = append(notes, "No cylinder can be named without a cam edge or another mark of the cycle.")
	case a.how == halfNamed:
		notes = append(notes, "Without a cam edge two cylinders a turn apart cannot be told from each other.")
	}
	if c.wheel.Learn && !c.nominal {
		notes = append(notes, "The marks' angles were learnt from this recording: a loss shared by two cylinders a turn apart cannot be seen.")
	}
	return notes
}

func shortList(angles []float64) string {
	if len(angles) > fewMarks {
		return fmt.Sprintf("%d places from 0 to %.1f", len(angles), angles[len(angles)-1])
	}
	text := ""
	for i, a := range angles {
		if i > 0 {
			text += " "
		}
		text += fmt.Sprintf("%.1f", a)
	}
	return text
}
