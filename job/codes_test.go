package job

import (
	"strings"
	"testing"

	"halforder/engine"
	"halforder/reason/fault"
)

func TestReadCodesRefuseWhatIsNone(t *testing.T) {
	c := fold(t)
	got, err := c.ReadCodes([]string{" p0303", "P2300", "U0100"})
	if err != nil || strings.Join(got, " ") != "P0303 P2300 U0100" {
		t.Errorf("%v, %v", got, err)
	}
	for field, want := range map[string]string{"303": "not a trouble code", "P4303": "not a trouble code", "P03033": "not a trouble code",
		"P0307": "misfire at cylinder 7 and this engine has 6"} {
		if _, err := c.ReadCodes([]string{field}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: want %q, got %v", field, want, err)
		}
	}
	if _, err := c.ReadCodes(nil); err == nil {
		t.Error("no code is no reading")
	}
}

// Which cylinder a misfire code means: ISO 15031-6, SAE J2012 (P0301 to P0312;
// P0300 is several or unknown, P030A and P0313 are no cylinder).
func TestMissCodesNameTheirCylinder(t *testing.T) {
	for code, want := range map[string]engine.Cylinder{"P0301": 1, "P0309": 9, "P0310": 10, "P0312": 12,
		"P0300": 0, "P0313": 0, "P030A": 0, "P1303": 0, "U0303": 0, "P0353": 0} {
		if got, _ := missAt(code); got != want {
			t.Errorf("%s: cylinder %d, want %d", code, got, want)
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
	for _, codes := range [][]string{{"P0300"}, {"P0171"}, {"P0309"}} {
		if _, apart := worst(t, fold(t, &Coded{Codes: codes})); apart > 1e-9 {
			t.Errorf("%v: one cylinder leads by %.2f, want none", codes, apart)
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

func TestCodesKeepTheirNumbersWhenTheEngineIsCorrected(t *testing.T) {
	c := fold(t, &Coded{Codes: []string{"P0303"}}, &Numbered{layout(t, "1-4-2-6-3-5")})
	if at, _ := worst(t, c); at != 3 {
		t.Errorf("cylinder %d leads, want 3", at)
	}
}

