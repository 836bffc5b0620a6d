package job

import (
	"reflect"
	"strings"
	"testing"

	"halforder/engine"
	"halforder/reason/fault"
)

func catalogue(t testing.TB) *fault.Catalogue {
	t.Helper()
	cat, err := fault.Default()
	if err != nil {
		t.Fatal(err)
	}
	return cat
}

func TestReadResults(t *testing.T) {
	card, cat := fold(t), catalogue(t)
	for _, c := range []struct {
		check  string
		fields []string
		want   map[engine.Cylinder]string
	}{
		{"cut", []string{"3=none", "1,2=normal"}, map[engine.Cylinder]string{3: "none", 1: "normal", 2: "normal"}},
		{"ramp", []string{"normal"}, map[engine.Cylinder]string{1: "normal", 2: "normal", 3: "normal", 4: "normal", 5: "normal", 6: "normal"}},
		// Published: lowest at least 75 % of highest (a US Army vehicle manual). 8.2/11.8 is 69 %.
		{"compression", []string{"1=11.8bar", "2=11.6bar", "3=8.2bar", "4=11.7bar", "5=1.15MPa", "6=167psi"},
			map[engine.Cylinder]string{1: "ok", 2: "ok", 3: "low", 4: "ok", 5: "ok", 6: "ok"}},
		// Published trade page: 10 % and more is lean, within 8 % is normal.
		{"trims", []string{"14%/2%"}, map[engine.Cylinder]string{0: "lean-idle"}},
		{"trims", []string{"-14%/−2%"}, map[engine.Cylinder]string{0: "rich"}},
	} {
		results, err := card.ReadResults(cat, c.check, c.fields)
		if err != nil {
			t.Errorf("%s %v: %v", c.check, c.fields, err)
		}
		got := map[engine.Cylinder]string{}
		for _, r := range results {
			got[r.Cylinder] = r.Outcome
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s %v gave %v, want %v", c.check, c.fields, got, c.want)
		}
	}
}

func TestReadResultsRefuses(t *testing.T) {
	card, cat := fold(t), catalogue(t)
	for _, c := range []struct {
		check, field, want string
	}{
		{"cut", "9=none", "this engine has 1 to 6"},
		{"cut", "none", "names no cylinder"},
		{"ramp", "low", "names no cylinder"},
		{"cut", "3=perhaps", "use one of normal, small, none"},
		{"cut", "x=none", "not a cylinder number"},
		{"cut", "3,3=none", "two results"},
		{"telepathy", "3=none", "unknown check"},
		{"ohms", "3=0.7 bar", "wrong unit"},
		{"ohms", "3=NaN", "no outcome"},
		{"ohms", "3=NaN ohm", "no outcome"},
		{"ohms", "3=1e999ohm", "not a number"},
		{"compression", "3=700bar", "cannot be"},
		{"compression", "3=8bar", "compares cylinders"},
		{"lead-ohms", "3=ok", "does not exist on a car with coil-on-plug"},
		{"trims", "14%", "2 wanted"},
	} {
		if r, err := card.ReadResults(cat, c.check, []string{c.field}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s %s: %v, %v, want %q", c.check, c.field, r, err, c.want)
		}
	}
}

func FuzzReadResults(f *testing.F) {
	card, cat := fold(f), catalogue(f)
	f.Add("compression", "1=11.8bar")
	f.Add("trims", "14%/2%")
	f.Add("cut", "1,2=none")
	f.Fuzz(func(t *testing.T, check, field string) {
		results, err := card.ReadResults(cat, check, []string{field})
		if err != nil {
			return
		}
		if _, err := Fold(1, append(events(t), Event{Seq: 2, At: moment, Body: &Entered{Check: check, Results: results}})); err != nil {
			t.Fatalf("%s %q was read as %+v, which does not fit the card: %v", check, field, results, err)
		}
	})
}

// Whatever can be entered can be judged: an entry that the belief refuses would lock
// the card.
func TestWhatIsEnteredCanBeBelieved(t *testing.T) {
	cat := catalogue(t)
	for _, engine := range []string{"i4", "v6-142536", "vtwin-90"} {
		for _, k := range cat.Checks() {
			for _, outcome := range k.OutcomeCodes() {
				for _, place := range []string{"", "1=", "1,2="} {
					es := events(t)
					es[0].Body.(*Opened).Engine = layout(t, engine)
					card, err := Fold(1, es)
					if err != nil {
						t.Fatal(err)
					}
					results, err := card.ReadResults(cat, k.Code, []string{place + outcome})
					if err != nil {
						continue
					}
					es = append(es, Event{Seq: 2, At: moment, Body: &Entered{Check: k.Code, Results: results, Regime: fault.Idle}})
					if card, err = Fold(1, es); err != nil {
						t.Errorf("%s, %s %s%s: %v", engine, k.Code, place, outcome, err)
						continue
					}
					if _, err = card.Belief(cat); err != nil {
						t.Errorf("%s, %s %s%s: %v", engine, k.Code, place, outcome, err)
					}
				}
			}
		}
	}
}
