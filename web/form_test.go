package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// A mark of thousands is no decimal point: a distance or a sum a thousand times too
// small would be believed.
func TestNumbersWithMarksOfThousandsAreAskedAgain(t *testing.T) {
	b := newBench(t, nil)
	fill(t, b, "i6", nil)
	for _, c := range []struct {
		path  string
		form  url.Values
		words string
	}{
		{"/new", url.Values{"car": {"Tarn Heron"}, "engine": {"i4"}, "ignition": {"coil-on-plug"}, "injection": {"port"}, "complaint": {"rough"},
			"regime": {"idle"}, "km": {"142.000"}}, "driven, km"},
		{"/jobs/1/agree", url.Values{"who": {"Ms Oduya"}, "limit": {"1.200"}}, "without marks of thousands"},
		{"/jobs/1/agree", url.Values{"who": {"Ms Oduya"}, "limit": {"1,200"}}, "without marks of thousands"},
	} {
		if status, body := try(t, b, c.path, c.form); status != http.StatusUnprocessableEntity || !strings.Contains(body, c.words) {
			t.Errorf("%s %v: status %d, without %q", c.path, c.form, status, c.words)
		}
	}
	if page := send(t, b, "/jobs/1/agree", url.Values{"who": {"Ms Oduya"}, "limit": {"64,50"}}); !strings.Contains(page, "64.50") {
		t.Error("a decimal comma is not read")
	}
}

func TestNothingIsLeftToCheckOfAProvenJob(t *testing.T) {
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	send(t, b, "/jobs/1/checks/cut", url.Values{"r3": {"none"}, "r1": {"normal"}, "r2": {"normal"}, "r4": {"normal"}, "stop": {"flashing", "fuel-leak"}, "regime": {"idle"}, "miss": {"present"}})
	send(t, b, "/jobs/1/renew", url.Values{"kind": {"coil"}, "at": {"3"}})
	send(t, b, "/jobs/1/prove", url.Values{"minutes": {"60"}, "regime": {"idle"}})
	for _, c := range []struct{ path, want string }{{"/jobs/1/next", "hand over, close the job"}, {"/jobs/1/close", ""}, {"/jobs/1/next", "nothing is left to check"}} {
		if c.path == "/jobs/1/close" {
			send(t, b, c.path, url.Values{})
			continue
		}
		if body := get(t, b, c.path); !strings.Contains(body, c.want) || strings.Contains(body, "look outside the list") {
			t.Errorf("%s does not say %q", c.path, c.want)
		}
	}
	if page := get(t, b, "/jobs/1/parts"); !strings.Contains(page, "coil C, out of the car") || strings.Contains(page, "coil E, out of the car") {
		t.Error("a coil that was taken out is not told from those in the car")
	}
	const closed = "nothing more can be entered"
	if page := get(t, b, "/jobs/1/parts"); !strings.Contains(page, closed) {
		t.Error("the page of a closed job offers work and does not say that it is closed")
	}
	send(t, b, "/jobs/1/undo", url.Values{"entry": {"6"}})
	if page := get(t, b, "/jobs/1/parts"); strings.Contains(page, closed) {
		t.Error("the closing was taken back, and the page says that the job is closed")
	}
}

func TestNamesCannotSteerATerminal(t *testing.T) {
	b := newBench(t, nil)
	fill(t, b, "i4", url.Values{"car": {"Tarn\x1b[31m Corvid"}})
	if page := get(t, b, "/jobs/1"); strings.Contains(page, "\x1b") || !strings.Contains(page, "Tarn [31m Corvid") {
		t.Error("a control character of a name reaches the card")
	}
}
