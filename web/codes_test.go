package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// TestACodeSaysWhichCylinderToLookAt types what the car gave, on the page of
// that check.
func TestACodeSaysWhichCylinderToLookAt(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i6", nil)
	if page := get(t, b, "/jobs/1/checks/codes"); !strings.Contains(page, `action="/jobs/1/codes"`) {
		t.Error("the check has no field for codes")
	}
	for _, wrong := range []string{"", "303", "P0309"} {
		if status, page := try(t, b, "/jobs/1/codes", url.Values{"codes": {wrong}}); status != http.StatusUnprocessableEntity {
			t.Errorf("%q: status %d\n%s", wrong, status, page)
		}
	}
	if page := send(t, b, "/new", url.Values{"car": {"Tarn Heron"}, "engine": {"i4"}, "ignition": {"coil-on-plug"}, "injection": {"port"}, "complaint": {"rough"}, "regime": {"idle"}, "codes": {"P0302"}}); !strings.Contains(page, "the trouble is at cylinder 2") {
		t.Errorf("cylinder 2 is not suspected:\n%s", page)
	}
	if page := send(t, b, "/jobs/1/codes", url.Values{"codes": {"p0303, P0300"}}); !strings.Contains(page, "the trouble is at cylinder 3") {
		t.Errorf("cylinder 3 is not suspected:\n%s", page)
	}
}

// A cut stores codes of its own: before codes are typed after it, it is said that
// they must be cleared, and the clearing can be told.
func TestCodesAfterACutAskForClearing(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i6", nil)
	const warning, cleared = "does not count", `name="cleared"`
	if page := get(t, b, "/jobs/1/checks/codes"); strings.Contains(page, warning) || strings.Contains(page, cleared) {
		t.Error("codes are in doubt though nothing was touched")
	}
	send(t, b, "/jobs/1/checks/cut", url.Values{"r3": {"none"}, "stop": {"flashing", "fuel-leak"}, "regime": {"idle"}})
	if page := get(t, b, "/jobs/1/checks/codes"); !strings.Contains(page, warning) || !strings.Contains(page, cleared) {
		t.Errorf("after a cut nothing warns, or the clearing cannot be told:\n%s", page)
	}
	send(t, b, "/jobs/1/codes", url.Values{"cleared": {"yes"}})
	if page := get(t, b, "/jobs/1/checks/codes"); strings.Contains(page, warning) {
		t.Error("codes are in doubt though they were cleared")
	}
}
