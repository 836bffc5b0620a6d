package guard

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"strings"
	"time"
)

// Policy is the content policy of every page: nothing from elsewhere, no
// inline script, no inline style.
const Policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; " +
	"media-src 'self' blob:; worker-src 'self'; manifest-src 'self'; frame-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// PrintPolicy is that of a document without any script whose style is its own:
// the report and pictures. It may be framed by our pages only.
const PrintPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'"

// Cookie is the name of the session cookie.
const Cookie = "halforder"

// BodyLimit is the size of a request body unless its route says otherwise.
const BodyLimit = 1 << 20

// Requests a second of one device, and tries to pair a minute of one address.
const (
	requestsPerSecond = 80
	requestBurst      = 240
	pairPerSecond     = 10.0 / 60
	pairBurst         = 10
)

// Guard checks requests before they are served. All exported fields but Limit
// and ReadOnly must be set before Wrap.
type Guard struct {
	Sessions *Sessions
	ReadOnly bool            // nobody may change anything
	Hosts    func() []string // names and addresses of this machine, without port
	Now      func() time.Time
	Log      *slog.Logger
	// Limit is what a request's body may hold, in bytes; nil is BodyLimit.
	Limit func(r *http.Request) int64
	// Refuse writes a refusal: a page, or JSON for a script.
	Refuse func(w http.ResponseWriter, r *http.Request, status int, words string)

	requests, pairing *rates
	origin            *http.CrossOriginProtection
}

// Wrap puts the guard before next.
func (g *Guard) Wrap(next http.Handler) http.Handler {
	g.requests, g.pairing = newRates(requestsPerSecond, requestBurst), newRates(pairPerSecond, pairBurst)
	g.origin = http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer g.catch(w, r)
		setHeaders(w)
		session, known := g.session(r)
		if status, words := g.check(r, session); status != 0 {
			g.Refuse(w, r, status, words)
			return
		}
		limit := int64(BodyLimit)
		if g.Limit != nil {
			limit = g.Limit(r)
		}
		r.Body = http.MaxBytesReader(w, r.Body, limit)
		if known {
			r = r.WithContext(context.WithValue(r.Context(), sessionKey{}, session))
		}
		next.ServeHTTP(w, r)
	})
}

func setHeaders(w http.ResponseWriter) {
	h := w.Header()
	h.Set("Content-Security-Policy", Policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "microphone=(self), accelerometer=(self), gyroscope=(self), camera=(), geolocation=(), payment=(), usb=(), serial=()")
	h.Set("Cache-Control", "no-store")
}

// check gives the status and words of a refusal, 0 when there is none.
func (g *Guard) check(r *http.Request, s Session) (int, string) {
	key := s.ID
	if key == "" {
		key = address(r)
	}
	switch {
	case !g.ourHost(r.Host):
		return http.StatusMisdirectedRequest, fmt.Sprintf("this bench does not answer to the name %q: use the address it shows", r.Host)
	case !s.Local && !g.requests.allow(key, g.Now()):
		return http.StatusTooManyRequests, "too many requests from this device: wait a few seconds and go on"
	case strings.HasPrefix(r.URL.Path, "/pair/") && !g.pairing.allow(address(r), g.Now()):
		return http.StatusTooManyRequests, "too many tries to pair: wait a minute, then scan a fresh code"
	case safe(r.Method):
		return 0, ""
	}
	if err := g.origin.Check(r); err != nil {
		return http.StatusForbidden, "the request came from another web site and was refused: use the bench's own pages"
	}
	if g.ReadOnly && !strings.HasPrefix(r.URL.Path, "/pair/") {
		return http.StatusForbidden, "this bench was started with --read-only: nothing can be changed"
	}
	return 0, ""
}

func safe(method string) bool { return method == http.MethodGet || method == http.MethodHead }

// ourHost refuses names that are not this machine's, so that a foreign name
// that resolves here (rebinding) gets nothing.
func (g *Guard) ourHost(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	}
	name = strings.ToLower(strings.Trim(name, "[]"))
	for _, ours := range g.Hosts() {
		if name == strings.ToLower(ours) {
			return true
		}
	}
	return false
}

type sessionKey struct{}

// Of is the session of a request, false when it has none.
func Of(r *http.Request) (Session, bool) {
	s, ok := r.Context().Value(sessionKey{}).(Session)
	return s, ok
}

// session finds who asks. A browser on this machine is the bench itself.
func (g *Guard) session(r *http.Request) (Session, bool) {
	if c, err := r.Cookie(Cookie); err == nil {
		if s, ok := g.Sessions.Find(c.Value); ok {
			return s, true
		}
	}
	if g.local(r) {
		return Session{ID: "this machine", Role: Bench, Name: "this machine", Local: true}, true
	}
	return Session{}, false
}

// local reports whether both ends are on this machine.
func (g *Guard) local(r *http.Request) bool {
	ip := net.ParseIP(address(r))
	host := r.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.Trim(host, "[]")
	named := net.ParseIP(host)
	return ip != nil && ip.IsLoopback() && (strings.EqualFold(host, "localhost") || named != nil && named.IsLoopback())
}

func address(r *http.Request) string {
	if host, _, err := net.SplitHostPort(r.RemoteAddr); err == nil {
		return host
	}
	return r.RemoteAddr
}

// SetCookie gives a device its session.
func SetCookie(w http.ResponseWriter, r *http.Request, key string, until time.Time) {
	http.SetCookie(w, &http.Cookie{Name: Cookie, Value: key, Path: "/", Expires: until,
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteLaxMode})
}

// catch turns a panic into an error page and a line in the log.
func (g *Guard) catch(w http.ResponseWriter, r *http.Request) {
	p := recover()
	if p == nil {
		return
	}
	if err, ok := p.(error); ok && errors.Is(err, http.ErrAbortHandler) {
		panic(p)
	}
	g.Log.Error("panic", "path", r.URL.Path, "panic", p, "stack", string(debug.Stack()))
	g.Refuse(w, r, http.StatusInternalServerError, "something went wrong in the bench itself; nothing was changed. Go back and try again")
}
