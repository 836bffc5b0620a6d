package web_test

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"html"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"halforder/reason/fault"
	"halforder/store/sqlite"
	"halforder/web"
)

// securedBench serves one bench twice, as the command does: plainly on this
// machine, and by HTTPS for phones.
func securedBench(t *testing.T) (here, phones string, phone func() *http.Client) {
	t.Helper()
	dir := t.TempDir()
	store, err := sqlite.Open(context.Background(), dir)
	must(t, err)
	t.Cleanup(func() { store.Close() })
	catalogue, err := fault.Default()
	must(t, err)
	plain, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	secure, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	_, port, _ := net.SplitHostPort(secure.Addr().String())
	b, err := web.New(web.Config{Store: store, Catalogue: catalogue, Dir: filepath.Join(dir, "bench"), Now: time.Now, PhonePort: func() string { return port }})
	must(t, err)
	t.Cleanup(func() { b.Close() })
	first, second := &http.Server{Handler: b.Handler()}, &http.Server{Handler: b.Handler(), TLSConfig: b.TLS()}
	go first.Serve(plain)
	go second.ServeTLS(secure, "", "")
	t.Cleanup(func() { first.Close(); second.Close() })
	here = "http://" + plain.Addr().String()

	answer, err := http.Get(here + "/certificate/halforder-workshop.crt")
	must(t, err)
	der, err := io.ReadAll(answer.Body)
	must(t, err)
	answer.Body.Close()
	root, err := x509.ParseCertificate(der)
	must(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(root)
	// A phone dials the address in the link; here it is this machine. The name
	// is checked against the certificate all the same.
	phone = func() *http.Client {
		jar, _ := cookiejar.New(nil)
		return &http.Client{Jar: jar, Timeout: 10 * time.Second, Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots},
			DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
				return (&net.Dialer{}).DialContext(ctx, network, secure.Addr().String())
			}}}
	}
	return here, "https://bench.local:" + port, phone
}

var link = regexp.MustCompile(`https://[^<"]+/pair/[A-Za-z0-9_-]+`)

// pairAs scans the code that the bench shows and taps "Pair".
func pairAs(t *testing.T, here string, phone *http.Client, role string) *http.Response {
	t.Helper()
	answer, err := http.Get(here + "/pair?role=" + role)
	must(t, err)
	page, _ := io.ReadAll(answer.Body)
	answer.Body.Close()
	found := html.UnescapeString(link.FindString(string(page)))
	if found == "" {
		t.Fatalf("no link on the page\n%s", page)
	}
	paired, err := phone.PostForm(found, url.Values{"name": {"phone 1"}})
	must(t, err)
	paired.Body.Close()
	paired.Request.URL.Host = regexp.MustCompile(`//([^/]+)`).FindStringSubmatch(found)[1]
	return paired
}

func TestPhonePairsByCodeOverTLS(t *testing.T) {
	t.Parallel()
	here, _, phone := securedBench(t)
	send := func(c *http.Client, base, path string, f url.Values) int {
		t.Helper()
		answer, err := c.PostForm(base+path, f)
		must(t, err)
		answer.Body.Close()
		return answer.StatusCode
	}
	job := url.Values{"car": {"Tarn"}, "engine": {"i4"}, "ignition": {"coil-on-plug"}, "injection": {"port"}, "complaint": {"rough"}, "regime": {"idle"}}
	for role, want := range map[string]int{"bench": http.StatusOK, "sensor": http.StatusForbidden, "guest": http.StatusForbidden} {
		c := phone()
		paired := pairAs(t, here, c, role)
		base := "https://" + paired.Request.URL.Host
		if paired.StatusCode != http.StatusOK {
			t.Fatalf("%s: pairing gives %s", role, paired.Status)
		}
		if got := send(c, base, "/new", job); got != want {
			t.Errorf("%s: a new job gives %d, want %d", role, got, want)
		}
	}
	stranger := phone()
	base := "https://" + pairAs(t, here, phone(), "guest").Request.URL.Host
	if got := send(stranger, base, "/new", job); got != http.StatusUnauthorized {
		t.Errorf("a stranger's new job gives %d", got)
	}
	answer, err := stranger.Get(base + "/")
	must(t, err)
	body, _ := io.ReadAll(answer.Body)
	answer.Body.Close()
	if answer.StatusCode != http.StatusUnauthorized || !strings.Contains(string(body), "scan the code") {
		t.Errorf("a stranger sees %s\n%s", answer.Status, body)
	}
}

func TestTricksAreRefusedWithWords(t *testing.T) {
	t.Parallel()
	b := newBench(t, nil)
	fill(t, b, "i4", nil)
	for name, c := range map[string]struct {
		path, words string
		form        url.Values
		status      int
	}{
		"path out of the static files": {"/static/x/..%2f..%2fbench.go", "no file", nil, 404},
		"job that is no number":        {"/jobs/..%2f1", "not the number", nil, 404},
		"unknown job":                  {"/jobs/99", "no such job", nil, 404},
		"unknown check":                {"/jobs/1/checks/..%2f", "check", nil, 404},
		"cylinder that is not there":   {"/jobs/1/cylinder/9", "9", nil, 404},
		"body too large":               {"/jobs/1/note", "too large", url.Values{"text": {strings.Repeat("x", 2<<20)}}, 413},
		"value that cannot be":         {"/jobs/1/checks/compression", "", url.Values{"r1_v0": {"NaN"}}, 422},
		"sum below nothing":            {"/jobs/1/agree", "not a number from 0 up", url.Values{"who": {"x"}, "limit": {"-1"}}, 422},
		"swap with itself":             {"/jobs/1/swap", "", url.Values{"kind": {"coil"}, "a": {"1"}, "b": {"1"}}, 422},
		"stop not ticked":              {"/jobs/1/checks/cut", "tick the stop", url.Values{"r1": {"normal"}}, 422},
	} {
		var status int
		var body string
		if c.form != nil {
			status, body = try(t, b, c.path, c.form)
		} else {
			answer, err := http.Get(b.url(c.path))
			must(t, err)
			data, _ := io.ReadAll(answer.Body)
			answer.Body.Close()
			status, body = answer.StatusCode, string(data)
		}
		if status != c.status || !strings.Contains(body, c.words) || !strings.Contains(body, "Not done") {
			t.Errorf("%s: status %d, want %d with %q\n%.600s", name, status, c.status, c.words, body)
		}
	}
}
