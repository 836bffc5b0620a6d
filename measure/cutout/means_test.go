package cutout_test

import (
	"strings"
	"testing"

	"halforder/engine"
	"halforder/measure/cutout"
)

func layout(t testing.TB, text string) engine.Layout {
	t.Helper()
	l, err := engine.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func ways(t *testing.T, engineName string, ign cutout.Ignition, inj cutout.Injection, c engine.Cylinder, dead ...engine.Cylinder) []cutout.Way {
	t.Helper()
	w, err := cutout.Ways(layout(t, engineName), ign, inj, c, dead...)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// Trade notes 1.4, 1.5 and 1.8: the order of safety.
func TestWaysAreOfferedSafestFirst(t *testing.T) {
	for _, row := range []struct {
		ign  cutout.Ignition
		inj  cutout.Injection
		want string
	}{
		{cutout.CoilOnPlug, cutout.Port, "injector coil-off coil-live"},
		{cutout.SmartCoil, cutout.Direct, "coil-off coil-live"},
		{cutout.NearPlug, cutout.Both, "injector-off coil-off coil-live"},
		{cutout.Cassette, cutout.Port, "injector"},
		{cutout.Distributor, cutout.Port, "injector"},
		{cutout.Distributor, cutout.Direct, ""},
	} {
		var got []string
		for _, w := range ways(t, "i4", row.ign, row.inj, 2) {
			got = append(got, string(w.Means))
		}
		if strings.Join(got, " ") != row.want {
			t.Errorf("%s, %s: %v, want %s", row.ign, row.inj, got, row.want)
		}
	}
}

func TestNoWayTouchesALead(t *testing.T) {
	for _, ign := range []cutout.Ignition{cutout.CoilOnPlug, cutout.SmartCoil, cutout.Cassette, cutout.NearPlug, cutout.WastedSpark, cutout.Distributor, cutout.TwinPlug} {
		for _, inj := range []cutout.Injection{cutout.Port, cutout.Direct, cutout.Both} {
			for _, w := range ways(t, "i4", ign, inj, 1) {
				for _, s := range w.Steps {
					if strings.Contains(s, "lead") {
						t.Errorf("%s, %s: step %q", ign, inj, s)
					}
				}
				if w.Means.Spark() && (!w.Confirm || !strings.Contains(strings.Join(w.Cautions, " "), "Never lift a lead")) {
					t.Errorf("%s, %s, %s: no caution about leads to confirm", ign, inj, w.Means)
				}
				if (w.Means == cutout.CoilLive) != strings.Contains(strings.Join(w.Cautions, " "), "no other way") {
					t.Errorf("%s: the warning of live unplugging stands in the wrong place", w.Means)
				}
			}
		}
	}
}

func TestPairsHalvesAndThrees(t *testing.T) {
	pair := ways(t, "i4", cutout.WastedSpark, cutout.Port, 4)
	if pair[0].Means != cutout.InjectorLive || len(pair[0].Takes) != 1 {
		t.Errorf("wasted spark: first way %+v, want the injector of one cylinder", pair[0])
	}
	if got := pair[1].Takes; len(got) != 2 || got[0] != 1 || got[1] != 4 || !pair[1].MayStall || pair[1].HoldRPM[0] != 1200 {
		t.Errorf("wasted spark coil: %+v, want the pair 1 and 4, held above idle", pair[1])
	}
	if got := ways(t, "i4", cutout.TwinPlug, cutout.Direct, 2)[0]; got.Part != 0.5 {
		t.Errorf("twin plug: %+v, want half", got)
	}
	three := ways(t, "i3", cutout.CoilOnPlug, cutout.Port, 2, 1)[0]
	if three.HoldRPM != [2]engine.RPM{1200, 1500} || !three.MayStall {
		t.Errorf("three with one dead: %+v, want 1200–1500 rpm", three)
	}
	if got := ways(t, "i3", cutout.CoilOnPlug, cutout.Port, 2)[0]; got.HoldRPM[0] != 0 {
		t.Errorf("healthy three: %+v, want idle", got)
	}
	if _, err := cutout.Ways(layout(t, "i3"), cutout.CoilOnPlug, cutout.Port, 4); err == nil {
		t.Error("cylinder 4 of a three was accepted")
	}
}

func TestUnits(t *testing.T) {
	if got := cutout.Units(layout(t, "i6"), true); len(got) != 3 || got[0][1] != 6 {
		t.Errorf("pairs of a six: %v", got)
	}
	abba := cutout.ABBA(cutout.Units(layout(t, "i3"), false))
	if len(abba) != 6 || abba[0][0] != 1 || abba[2][0] != 3 || abba[3][0] != 3 || abba[5][0] != 1 {
		t.Errorf("forwards and backwards: %v", abba)
	}
}
