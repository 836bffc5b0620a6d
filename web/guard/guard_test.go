package guard

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

type clock struct{ t time.Time }

func (c *clock) now() time.Time { return c.t }

func newGuard(t *testing.T) (*Guard, *clock) {
	t.Helper()
	c := &clock{time.Date(2026, 3, 9, 8, 30, 0, 0, time.UTC)}
	s, err := OpenSessions(filepath.Join(t.TempDir(), "paired.json"), c.now)
	if err != nil {
		t.Fatal(err)
	}
	return &Guard{Sessions: s, Hosts: func() []string { return []string{"localhost", "127.0.0.1", "192.168.7.20"} }, Now: c.now, Log: slog.New(slog.DiscardHandler),
		Refuse: func(w http.ResponseWriter, _ *http.Request, status int, words string) { http.Error(w, words, status) }}, c
}

// whoAmI answers with the role of the request's session.
var whoAmI = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
	s, _ := Of(r)
	w.Write([]byte(s.Role))
})

type ask struct {
	method, host, from, cookie string
	header                     map[string]string
	path                       string
}

func do(h http.Handler, a ask) *httptest.ResponseRecorder {
	if a.path == "" {
		a.path = "/"
	}
	r := httptest.NewRequest(a.method, "http://"+a.host+a.path, strings.NewReader("x=1"))
	r.RemoteAddr = a.from + ":40000"
	for k, v := range a.header {
		r.Header.Set(k, v)
	}
	if a.cookie != "" {
		r.AddCookie(&http.Cookie{Name: Cookie, Value: a.cookie})
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestWhoIsTrusted(t *testing.T) {
	g, _ := newGuard(t)
	h := g.Wrap(whoAmI)
	for name, c := range map[string]struct {
		ask
		status int
		role   string
	}{
		"browser on this machine":                   {ask{method: "GET", host: "localhost:8420", from: "127.0.0.1"}, 200, "bench"},
		"phone without a session":                   {ask{method: "GET", host: "192.168.7.20:8421", from: "192.168.7.9"}, 200, ""},
		"foreign name that resolves here":           {ask{method: "GET", host: "evil.example:8420", from: "127.0.0.1"}, 421, ""},
		"network address asked from this machine":   {ask{method: "GET", host: "192.168.7.20:8421", from: "127.0.0.1"}, 200, ""},
		"local name asked from the network":         {ask{method: "GET", host: "localhost:8420", from: "192.168.7.9"}, 200, ""},
		"post from another site":                    {ask{method: "POST", host: "localhost:8420", from: "127.0.0.1", header: map[string]string{"Sec-Fetch-Site": "cross-site"}}, 403, ""},
		"post from another site, by an old browser": {ask{method: "POST", host: "localhost:8420", from: "127.0.0.1", header: map[string]string{"Origin": "https://evil.example"}}, 403, ""},
		"post from our own page":                    {ask{method: "POST", host: "localhost:8420", from: "127.0.0.1", header: map[string]string{"Sec-Fetch-Site": "same-origin"}}, 200, "bench"},
	} {
		w := do(h, c.ask)
		if w.Code != c.status || c.status == 200 && w.Body.String() != c.role {
			t.Errorf("%s: status %d %q, want %d %q", name, w.Code, w.Body, c.status, c.role)
		}
	}
}

func TestHeadersAreOnEveryAnswer(t *testing.T) {
	g, _ := newGuard(t)
	h := g.Wrap(whoAmI)
	for _, host := range []string{"localhost:8420", "evil.example"} {
		w := do(h, ask{method: "GET", host: host, from: "127.0.0.1"})
		csp := w.Header().Get("Content-Security-Policy")
		if !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") {
			t.Errorf("%s: policy %q", host, csp)
		}
		if w.Header().Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: no nosniff", host)
		}
	}
}

func TestPairingCodeWorksOnceAndExpires(t *testing.T) {
	g, c := newGuard(t)
	token, _ := g.Sessions.Offer(Sensor, 3)
	if _, err := g.Sessions.Peek(token); err != nil {
		t.Error("looking uses the code up:", err)
	}
	key, s, err := g.Sessions.Pair(token, "phone")
	if err != nil || s.Role != Sensor || s.Job != 3 {
		t.Fatal(s, err)
	}
	if _, _, err := g.Sessions.Pair(token, "thief"); err == nil {
		t.Error("the code works twice")
	}
	late, _ := g.Sessions.Offer(Bench, 0)
	c.t = c.t.Add(OfferTime)
	if _, _, err := g.Sessions.Pair(late, "late"); err == nil {
		t.Error("the code works after its time")
	}
	h := g.Wrap(whoAmI)
	if w := do(h, ask{method: "GET", host: "192.168.7.20", from: "192.168.7.9", cookie: key}); w.Body.String() != "sensor" {
		t.Errorf("the phone is %q", w.Body)
	}
	c.t = c.t.Add(SessionTime)
	if w := do(h, ask{method: "GET", host: "192.168.7.20", from: "192.168.7.9", cookie: key}); w.Body.String() != "" {
		t.Errorf("after its day the phone is %q", w.Body)
	}
}

func TestPairedDevicesSurviveARestartAndHoldNoSecret(t *testing.T) {
	g, c := newGuard(t)
	token, _ := g.Sessions.Offer(Bench, 0)
	key, _, err := g.Sessions.Pair(token, "tablet")
	if err != nil {
		t.Fatal(err)
	}
	again, err := OpenSessions(g.Sessions.file, c.now)
	if err != nil {
		t.Fatal(err)
	}
	if s, ok := again.Find(key); !ok || s.Role != Bench {
		t.Error("the tablet has to pair again after a restart")
	}
	if _, ok := again.Find(again.List()[0].ID); ok {
		t.Error("what is on the disk opens the door")
	}
}

func TestReadOnlyRefusesEveryChange(t *testing.T) {
	g, _ := newGuard(t)
	g.ReadOnly = true
	h := g.Wrap(whoAmI)
	for _, method := range []string{"POST", "PUT", "DELETE", "PATCH"} {
		if w := do(h, ask{method: method, host: "localhost", from: "127.0.0.1"}); w.Code != 403 {
			t.Errorf("%s: %d", method, w.Code)
		}
	}
}

func TestRatesAreLimitedByDevice(t *testing.T) {
	g, c := newGuard(t)
	h := g.Wrap(whoAmI)
	one := ask{method: "GET", host: "localhost", from: "192.168.7.9"}
	refused := 0
	for range requestBurst + 50 {
		if do(h, one).Code == http.StatusTooManyRequests {
			refused++
		}
	}
	if refused != 50 {
		t.Errorf("%d of %d refused, want 50", refused, requestBurst+50)
	}
	if w := do(h, ask{method: "GET", host: "localhost", from: "192.168.7.10"}); w.Code != 200 {
		t.Error("another device is refused too")
	}
	c.t = c.t.Add(time.Second)
	if w := do(h, one); w.Code != 200 {
		t.Error("a second later it is still refused")
	}
}

func TestGuessingPairingCodesIsSlow(t *testing.T) {
	g, _ := newGuard(t)
	h := g.Wrap(whoAmI)
	last := 0
	for range pairBurst + 1 {
		last = do(h, ask{method: "POST", host: "192.168.7.20", from: "192.168.7.9", path: "/pair/guess"}).Code
	}
	if last != http.StatusTooManyRequests {
		t.Errorf("the %dth guess gives %d", pairBurst+1, last)
	}
}

func TestPanicBecomesAPage(t *testing.T) {
	g, _ := newGuard(t)
	h := g.Wrap(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("bug") }))
	if w := do(h, ask{method: "GET", host: "localhost", from: "127.0.0.1"}); w.Code != 500 || strings.Contains(w.Body.String(), "bug") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}
