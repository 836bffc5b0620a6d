package job

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/reason/fault"
	"halforder/reason/plan"
)

func TestReadCodesRefuseWhatIsNone(t *testing.T) {
	i6 := layout(t, "i6")
	got, err := ReadCodes(i6, []string{" p0303", "P2300", "U0100"})
	if err != nil || strings.Join(got, " ") != "P0303 P2300 U0100" {
		t.Errorf("%v, %v", got, err)
	}
	for field, want := range map[string]string{"303": "not a trouble code", "P4303": "not a trouble code", "P03033": "not a trouble code",
		"P0307": "about cylinder 7 and this engine has 6"} {
		if _, err := ReadCodes(i6, []string{field}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: want %q, got %v", field, want, err)
		}
	}
	if got, err := ReadCodes(i6, nil); err != nil || len(got) != 0 {
		t.Errorf("%v, %v", got, err)
	}
}

// What codes mean: ISO 15031-6, SAE J2012. P0300 is several or unknown, P030A and
// P0313 are no cylinder; the numbers of low and high circuits are from memory.
func TestCodesMeanTheirCylinder(t *testing.T) {
	for code, want := range map[string]string{"P0301": "named 1", "P0309": "named 9", "P0310": "named 10", "P0312": "named 12",
		"P0201": "injector 1", "P0212": "injector 12", "P0270": "injector 4", "P0262": "injector 1", "P0353": "coil 3", "P0362": "coil 12", "P2306": "coil 3", "P2301": "coil 1",
		"P0300": " 0", "P0313": " 0", "P030A": " 0", "P1303": " 0", "U0303": " 0", "P0200": " 0", "P0350": " 0", "P0263": " 0", "P2302": " 0", "": " 0", "P": " 0"} {
		outcome, cylinder := meaning(code)
		if got := fmt.Sprintf("%s %d", outcome, cylinder); got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
	}
}

// A circuit that the computer finds open points to wires, driver or winding.
func TestACircuitCodeTellsThePlaceFromThePart(t *testing.T) {
	share := func(where string, codes ...string) float64 {
		b, err := fold(t, &Coded{Codes: codes}).Belief(catalogue(t))
		if err != nil {
			t.Fatal(err)
		}
		var sum float64
		for _, s := range b.Suspects() {
			if slices.Contains(strings.Fields(where), s.Cause) {
				sum += s.P
			}
		}
		return sum
	}
	const ignition, injection = "coil-wiring coil-driver", "injector-dead injector-wiring injector-driver"
	miss := share(ignition, "P0303")
	if coil := share(ignition, "P0303", "P0353"); coil < 2*miss || coil > 0.9 {
		t.Errorf("wires and driver of the coil stand at %.2f with its circuit named, %.2f without", coil, miss)
	}
	if lone := share(ignition, "P0303", "P0351"); lone != miss {
		t.Errorf("coil A of an engine that misses at 3 moves the belief from %.2f to %.2f", miss, lone)
	}
	if injector := share(injection, "P0203"); injector < 0.5 {
		t.Errorf("the injector and its circuit stand at %.2f", injector)
	}
}

// The code of a coil counts where the misfire counters name its cylinder, though no
// code of a misfire does; of the other cylinders it then says nothing.
func TestCodeOfACoilBesideCounters(t *testing.T) {
	counters := func(at engine.Cylinder) *Entered {
		e := &Entered{Check: countersCheck, Regime: fault.Idle}
		for _, c := range layout(t, "i6").Cylinders() {
			outcome := "zero"
			if c == at {
				outcome = "many"
			}
			e.Results = append(e.Results, Result{Cylinder: c, Outcome: outcome})
		}
		return e
	}
	code := []string{"P0353"}
	if got := fold(t, counters(3)).namedIn(code); len(got) != 1 || got[0].Cylinder != 3 || got[0].Outcome != "coil" {
		t.Errorf("counters at 3: %+v", got)
	}
	for _, c := range []*Card{fold(t), fold(t, counters(1))} {
		if got := c.namedIn(code); len(got) != 0 {
			t.Errorf("no counts at 3: %+v", got)
		}
	}
}

// worst is the cylinder least likely to work, and by how much less than the
// next.
func worst(t *testing.T, c *Card) (engine.Cylinder, float64) {
	t.Helper()
	b, err := c.Belief(catalogue(t))
	if err != nil {
		t.Fatal(err)
	}
	at, lowest, next := engine.Cylinder(0), 1.0, 1.0
	for _, s := range b.Cylinders(c.Seating, fault.Idle) {
		switch works := s.Works; {
		case works < lowest:
			at, lowest, next = s.Cylinder, works, lowest
		case works < next:
			next = works
		}
	}
	return at, next - lowest
}

func TestACodeThatNamesACylinderMovesTheBelief(t *testing.T) {
	if at, apart := worst(t, fold(t, &Coded{Codes: []string{"P0303"}})); at != 3 || apart < 0.5 {
		t.Errorf("cylinder %d leads by %.2f, want 3 clearly", at, apart)
	}
	for _, codes := range [][]string{{"P0300"}, {"P0171"}, {"P0309"}, {"P0353"}} {
		if _, apart := worst(t, fold(t, &Coded{Codes: codes})); apart > 1e-9 {
			t.Errorf("%v: one cylinder leads by %.2f, want none", codes, apart)
		}
	}
}

func TestACodeOfSeveralCylindersSpeaksForTheEngine(t *testing.T) {
	wide := func(codes ...string) float64 {
		b, err := fold(t, &Coded{Codes: codes}).Belief(catalogue(t))
		if err != nil {
			t.Fatal(err)
		}
		var sum float64
		for _, s := range b.Suspects() {
			if len(s.Site.Cylinders) == 6 {
				sum += s.P
			}
		}
		return sum
	}
	if none, several := wide("P0562"), wide("P0300"); several < 1.5*none {
		t.Errorf("causes of the whole engine stand at %.2f, without the code at %.2f", several, none)
	}
	if at, apart := worst(t, fold(t, &Coded{Codes: []string{"P0300", "P0303"}})); at != 3 || apart < 0.5 {
		t.Errorf("beside P0303 it hides cylinder 3: %d leads by %.2f", at, apart)
	}
}

func TestCodesReadAreNotToBeReadAgain(t *testing.T) {
	for codes, want := range map[string]bool{"P0300": true, "P0171": true, "": false} {
		c := fold(t)
		if codes != "" {
			c = fold(t, &Coded{Codes: []string{codes}})
		}
		forbidden := c.Circumstances().Forbids
		if slices.Contains(forbidden, codesCheck) != want || !slices.Contains(forbidden, severalCheck) {
			t.Errorf("%q: forbidden %v", codes, forbidden)
		}
	}
}

func TestCodesTypedAsACheckTooAreOneReadingRepeated(t *testing.T) {
	once := &Entered{Check: codesCheck, Results: fold(t).namedIn([]string{"P0303"})}
	_, alone := worst(t, fold(t, once))
	_, both := worst(t, fold(t, once, &Coded{Codes: []string{"P0303"}}))
	_, typedTwice := worst(t, fold(t, once, once))
	if both != typedTwice || both < alone {
		t.Errorf("alone %.3f, with the code %.3f, typed twice %.3f", alone, both, typedTwice)
	}
}

func TestCodesOfOneRunAreOneReading(t *testing.T) {
	one := fold(t, &Coded{Codes: []string{"P0303"}}, &Noted{Text: "warm"}, &Coded{Codes: []string{"P0305"}})
	if got := one.Evidence(); len(got) != 2 || len(got[0].Reading.Cylinders)+len(got[1].Reading.Cylinders) != 6 {
		t.Errorf("%d pieces of evidence, want the named and the others", len(got))
	}
	two := fold(t, &Coded{Codes: []string{"P0303"}}, &CodesCleared{}, &Coded{Codes: []string{"P0305"}})
	if got := len(two.AllReadings()); got != 2 {
		t.Errorf("%d readings, want that before and that after the clearing", got)
	}
	if got := strings.Join(two.Codes, " "); got != "P0305" {
		t.Errorf("still stored: %s", got)
	}
}

// A code first read after parts were moved may be older than that.
func TestACodeOfUnknownAgeSaysNothing(t *testing.T) {
	swap := &Swapped{Part: "coil", A: 1, B: 3}
	if got := fold(t, swap, &Coded{Codes: []string{"P0303"}}).Evidence(); len(got) != 0 {
		t.Errorf("%d pieces of evidence, want none", len(got))
	}
	if got := fold(t, &Coded{Codes: []string{"P0303"}}, swap, &Coded{Codes: []string{"P0301"}}).AllReadings(); len(got) != 1 || got[0].What.Words != "P0303" {
		t.Errorf("%d readings, want that before the swap as it was", len(got))
	}
	moved := fold(t, &Coded{Codes: []string{"P0303"}}, swap, &CodesCleared{}, &Coded{Codes: []string{"P0301"}})
	readings := moved.AllReadings()
	if len(readings) != 2 || readings[1].Seating.At(fault.Coil, 1) != moved.Seating.At(fault.Coil, 1) {
		t.Fatalf("%d readings, want the second of the parts as they sit now", len(readings))
	}
	b, err := moved.Belief(catalogue(t))
	if err != nil {
		t.Fatal(err)
	}
	if top := b.Suspects()[0]; top.Site.Name != "coil C" {
		t.Errorf("%v leads, want the coil that went from 3 to 1 with the code", top)
	}
}

// Parts that are back where they were leave a code its meaning, but at the two
// cylinders between which they went; a circuit is named whatever hung on it.
func TestACodeReadWhenPartsAreBackCounts(t *testing.T) {
	for _, c := range []struct {
		part  fault.PartKind
		codes string
		want  string
	}{
		{"coil", "P0305", "2:none 4:none 5:named 6:none"},
		{"coil", "P0303", "2:none 4:none 5:none 6:none"},
		{"coil", "P0303 P0203", "2:none 3:injector 4:none 5:none 6:none"},
		{"injector", "P0303 P0203", "2:none 4:none 5:none 6:none"},
		{"plug", "P0303 P0353", "2:none 3:coil 4:none 5:none 6:none"},
	} {
		there, back := &Swapped{Part: c.part, A: 3, B: 1}, &Swapped{Part: c.part, A: 1, B: 3}
		card := fold(t, there, back, &Coded{Codes: strings.Fields(c.codes)})
		var got []string
		for _, r := range card.AllReadings() {
			for _, x := range r.What.Results {
				got = append(got, fmt.Sprintf("%d:%s", x.Cylinder, x.Outcome))
			}
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s of 3 and 1 swapped and back, then %s: %v, want %s", c.part, c.codes, got, c.want)
		}
	}
}

// Unplugging a cylinder makes the computer store codes of it (common practice, no
// source): what is read after that counts for the others only.
func TestCodesReadAfterACutSayNothingOfItsCylinder(t *testing.T) {
	cut := &Entered{Check: cutCheck, Results: []Result{{Cylinder: 3, Outcome: "none"}}}
	codes := &Coded{Codes: []string{"P0303", "P0203", "P0305"}}
	named := func(bodies ...Body) (out []string) {
		for _, r := range fold(t, bodies...).AllReadings() {
			for _, x := range r.What.Results {
				if r.What.Check == codesCheck && x.Outcome != "none" {
					out = append(out, fmt.Sprintf("%d:%s", x.Cylinder, x.Outcome))
				}
			}
		}
		return out
	}
	for _, c := range []struct {
		bodies []Body
		want   string
	}{
		{[]Body{codes, cut}, "3:injector 5:named"},
		{[]Body{cut, codes}, "5:named"},
		{[]Body{cut, &CodesCleared{}, codes}, "3:injector 5:named"},
		{[]Body{&Coded{Codes: []string{"P0305"}}, cut, codes}, "5:named"},
	} {
		if got := strings.Join(named(c.bodies...), " "); got != c.want {
			t.Errorf("%d entries: %q, want %q", len(c.bodies), got, c.want)
		}
	}
}

func TestACutMayUpsetTheWholeEngine(t *testing.T) {
	codes := &Coded{Codes: []string{"P0300", "P0171"}}
	said := func(bodies ...Body) (out []string) {
		for _, r := range fold(t, bodies...).AllReadings() {
			out = append(out, r.What.Check)
		}
		return out
	}
	cut := &Entered{Check: cutCheck, Results: []Result{{Cylinder: 3, Outcome: "none"}}}
	if got := said(codes); !slices.Contains(got, severalCheck) || !slices.Contains(got, mixtureCheck) {
		t.Errorf("%v, want both codes of the whole engine", got)
	}
	if got := said(cut, codes); slices.Contains(got, severalCheck) || slices.Contains(got, mixtureCheck) {
		t.Errorf("%v, want none of the whole engine after a cut", got)
	}
}

func TestCodesThatCannotCountAreNotProposed(t *testing.T) {
	there, back := &Swapped{Part: "coil", A: 3, B: 1}, &Swapped{Part: "coil", A: 1, B: 3}
	for _, c := range []struct {
		bodies []Body
		want   bool
	}{
		{nil, false},
		{[]Body{there}, true},
		{[]Body{there, back}, false},
		{[]Body{there, &CodesCleared{}}, false},
		{[]Body{&Repaired{Words: "hose"}}, true},
		{[]Body{&Entered{Check: cutCheck, Results: results("normal", 1, 2)}}, false},
		{[]Body{&Entered{Check: cutCheck, Results: results("normal", 1, 2, 3, 4, 5, 6)}}, true},
		{[]Body{&Entered{Check: cutCheck, Results: results("normal", 1, 2, 3)}, &Entered{Check: cutCheck, Results: results("normal", 1, 2, 3)}}, false},
	} {
		if got := slices.Contains(fold(t, c.bodies...).Circumstances().Forbids, codesCheck); got != c.want {
			t.Errorf("after %d entries reading codes is forbidden: %v", len(c.bodies), got)
		}
	}
}

// What is stored came about as the customer drove, however the engine ran when it
// was read.
func TestCodesAreOfNoRegime(t *testing.T) {
	none := fold(t).namedIn([]string{"P0300"})
	odds := func(r fault.Regime) float64 {
		b, err := fold(t, &Entered{Check: codesCheck, Regime: r, Results: none}).Belief(catalogue(t))
		if err != nil {
			t.Fatal(err)
		}
		return b.Suspects()[0].P
	}
	if idle, load := odds(fault.Idle), odds(fault.Loaded); idle != load {
		t.Errorf("read at idle the first suspect stands at %v, under load at %v", idle, load)
	}
}

// A lean code makes one look for leaking air, a rich one for a dribbling injector:
// common practice, no source; by how much at least is ours.
func TestAMixtureCodeSpeaksForWhatUnsettlesTheMixture(t *testing.T) {
	share := func(cause string, bodies ...Body) float64 {
		b, err := fold(t, bodies...).Belief(catalogue(t))
		if err != nil {
			t.Fatal(err)
		}
		var sum float64
		for _, s := range b.Suspects() {
			if s.Cause == cause {
				sum += s.P
			}
		}
		return sum
	}
	several := &Coded{Codes: []string{"P0300"}}
	lean := &Coded{Codes: []string{"P0300", "P0171"}}
	if before, after := share("plenum-leak", several), share("plenum-leak", lean); after < 1.5*before {
		t.Errorf("a lean code moves an air leak from %.3f to %.3f", before, after)
	}
	if before, after := share("injector-leaking", several), share("injector-leaking", &Coded{Codes: []string{"P0300", "P0172"}}); after < 2*before {
		t.Errorf("a rich code moves a dribbling injector from %.3f to %.3f", before, after)
	}
	trims := &Entered{Check: trimsCheck, Results: []Result{{Outcome: "lean-idle"}}}
	if alone, both := share("plenum-leak", several, trims), share("plenum-leak", lean, trims); alone != both {
		t.Errorf("trims and the code that follows from them count twice: %.3f, %.3f", alone, both)
	}
	if one, other := share("plenum-leak", several), share("plenum-leak", &Coded{Codes: []string{"P0300", "P0171", "P0175"}}); one != other {
		t.Errorf("one bank lean and one rich says %.3f, want nothing: %.3f", other, one)
	}
}

func TestCodesAreReadBeforeACut(t *testing.T) {
	cut, codes, record := plan.Suggestion{Check: cutCheck}, plan.Suggestion{Check: codesCheck}, plan.Suggestion{Check: "record"}
	order := func(steps ...plan.Suggestion) (out []string) {
		for _, s := range codesFirst(steps) {
			out = append(out, s.Check)
		}
		return out
	}
	if got := order(cut, record, codes); !slices.Equal(got, []string{codesCheck, cutCheck, "record"}) {
		t.Errorf("%v, want the codes before the cut", got)
	}
	if got := order(record, cut, codes); got[0] != "record" {
		t.Errorf("%v, want what is best first where nothing is cut", got)
	}
	if got := order(cut, record); got[0] != cutCheck {
		t.Errorf("%v, want the cut where codes are worth nothing", got)
	}
}

func TestCodesKeepTheirNumbersWhenTheEngineIsCorrected(t *testing.T) {
	c := fold(t, &Coded{Codes: []string{"P0303"}}, &Numbered{layout(t, "1-4-2-6-3-5")})
	if at, _ := worst(t, c); at != 3 {
		t.Errorf("cylinder %d leads, want 3", at)
	}
}

// Which codes the standard leaves to the car maker: SAE J2012.
func TestCodeWords(t *testing.T) {
	const maker = "maker's own"
	for code, want := range map[string]string{"P0303": "misfire at cylinder 3", "P2306": "circuit of coil C", "P0204": "injector circuit of cylinder 4",
		"P0171": "too lean, bank 1", "P1303": maker, "P3099": maker, "P3399": maker, "U1016": maker, "B2000": maker, "P3400": "", "P2A00": "", "C0300": "", "P": "", "": ""} {
		got := CodeWords(code)
		if !strings.Contains(got, want) || want == "" && got != "" {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
	}
	if got := CodesWords([]string{"P0303", "P2A00"}); got != "P0303 (misfire at cylinder 3), P2A00" {
		t.Error(got)
	}
	for code := range codeTitles {
		if !codeForm.MatchString(code) {
			t.Errorf("%q is no code", code)
		}
	}
}

// Whatever is typed, what is kept are codes, and what is on a card can be read.
func FuzzReadCodes(f *testing.F) {
	for _, seed := range []string{"P0303 P0300", "p2306,U0100", "", "P+303", "\xff"} {
		f.Add(seed)
	}
	i12 := layout(f, "v12")
	f.Fuzz(func(t *testing.T, text string) {
		codes, err := ReadCodes(i12, strings.Fields(text))
		for _, code := range codes {
			if err != nil || !codeForm.MatchString(code) {
				t.Errorf("%q, %v", codes, err)
			}
		}
		for _, code := range strings.Fields(text) {
			if outcome, cylinder := meaning(code); (outcome == "") != (cylinder == 0) || cylinder > mostCylinders {
				t.Errorf("%q: %q at %d", code, outcome, cylinder)
			}
		}
		CodesWords(strings.Fields(text))
	})
}

// None stored is an answer: every cylinder is cleared by as much as a code would have
// accused it, and the reading is not asked for again. Soon after a clearing it says nothing.
func TestNoCodesStored(t *testing.T) {
	l := layout(t, "i6")
	none, err := ReadCodes(l, []string{"None"})
	if err != nil || none == nil || len(none) > 0 {
		t.Fatalf("%v, %v", none, err)
	}
	if _, err := ReadCodes(l, []string{"none", "P0303"}); err == nil {
		t.Error("none beside a code is taken")
	}
	if some, _ := ReadCodes(l, nil); some != nil {
		t.Error("nothing typed is taken for none stored")
	}
	checks := func(c *Card) (out []string) {
		for _, r := range c.AllReadings() {
			out = append(out, r.What.Check)
		}
		return out
	}
	read := fold(t, &Coded{Codes: none})
	if got := checks(read); !slices.Equal(got, []string{codesCheck, severalCheck, mixtureCheck}) {
		t.Errorf("read: %v", got)
	}
	if !slices.Contains(read.codesForbid(), codesCheck) {
		t.Error("they are to be read again")
	}
	if got := checks(fold(t, &CodesCleared{}, &Coded{Codes: none})); len(got) != 0 {
		t.Errorf("just cleared: %v", got)
	}
	if got := checks(fold(t, &Coded{Codes: none}, &Coded{Codes: []string{"P0303"}})); !slices.Equal(got, []string{codesCheck}) {
		t.Errorf("a code found after all: %v", got)
	}
	data, err := EncodeEvent(Event{Seq: 2, At: moment, Body: &Coded{Codes: none}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := DecodeEvent(data); err != nil {
		t.Error(err)
	}
}
