package web_test

import (
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// A check of a bank is answered for each bank of a V engine.
func TestCheckOfABankIsAnsweredPerBank(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "v6-142536", nil)
	page := get(t, b, "/jobs/1/checks/back-pressure")
	for _, want := range []string{"Bank 1: cylinders 1, 2 and 3", "Bank 2: cylinders 4, 5 and 6", `name="r4_v0"`} {
		if !strings.Contains(page, want) {
			t.Errorf("the check does not show %q", want)
		}
	}
	stops := regexp.MustCompile(`name="stop" value="([^"]+)"`)
	f := url.Values{"r1_v0": {"0.005"}, "r4_v0": {"0.2"}, "regime": {"idle"}}
	for _, stop := range stops.FindAllStringSubmatch(page, -1) {
		f.Add("stop", stop[1])
	}
	send(t, b, "/jobs/1/checks/back-pressure", f)
	if page := get(t, b, "/jobs/1/card"); !strings.Contains(page, "bank 2: 0.2 bar (too high)") {
		t.Errorf("the card does not say what bank 2 gave:\n%s", page)
	}
}
