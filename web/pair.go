package web

import (
	"bytes"
	"fmt"
	"html/template"
	"net"
	"net/http"
	"strconv"
	"strings"

	"github.com/piglig/go-qr"

	"halforder/web/cert"
	"halforder/web/guard"
)

// phoneBase is where phones find the bench: "https://192.168.7.20:8421".
func (b *Bench) phoneBase() string {
	if b.PhonePort == nil || b.PhonePort() == "" {
		return ""
	}
	for _, name := range b.hosts() {
		if ip := net.ParseIP(name); ip != nil && cert.Private(ip) && !ip.IsLoopback() {
			return "https://" + net.JoinHostPort(name, b.PhonePort())
		}
	}
	return "https://" + net.JoinHostPort("localhost", b.PhonePort())
}

type pairData struct {
	Role     guard.Role
	Roles    []choice
	Link     string
	Code     template.HTML
	Minutes  int
	Paired   []guard.Session
	NoPhones bool
	Job      int64
	Print    string
	Alone    bool // this machine has no address in a network
}

func (b *Bench) pairPage(w http.ResponseWriter, r *http.Request) error {
	role, err := guard.ParseRole(r.FormValue("role"))
	if err != nil {
		role = guard.Sensor
	}
	at, _ := strconv.ParseInt(r.FormValue("job"), 10, 64)
	v := pairData{Role: role, Job: at, Paired: b.sessions.List(), Minutes: int(guard.OfferTime.Minutes()), Print: b.authority.Fingerprint(),
		Roles: []choice{{"sensor", "sensor", "a phone on the engine", role == guard.Sensor}, {"bench", "bench", "a tablet that does everything", role == guard.Bench}, {"guest", "guest", "may look, change nothing", role == guard.Guest}}}
	base := b.phoneBase()
	v.NoPhones, v.Alone = base == "", strings.Contains(base, "localhost")
	if !v.NoPhones {
		token, _ := b.sessions.Offer(role, at)
		v.Link = base + "/pair/" + token
		if v.Code, err = qrCode(v.Link); err != nil {
			return err
		}
	}
	p := b.page(r, "Pair a device")
	p.Data, p.Scripts = v, []string{"pair.js"}
	return b.show(w, "pair", p)
}

// qrCode draws a link as one SVG path. Medium error correction: screens in the
// sun, glass with oil on it.
func qrCode(link string) (template.HTML, error) {
	code, err := go_qr.EncodeText(link, go_qr.Medium)
	if err != nil {
		return "", fmt.Errorf("pairing code: %w", err)
	}
	const quiet = 4 // modules around it, ISO/IEC 18004
	var path bytes.Buffer
	n := code.Size()
	for y := range n {
		for x := range n {
			if code.Module(x, y) {
				fmt.Fprintf(&path, "M%d %dh1v1h-1z", x+quiet, y+quiet)
			}
		}
	}
	side := n + 2*quiet
	return template.HTML(fmt.Sprintf(`<svg class="qr" viewBox="0 0 %d %d" role="img" aria-label="Pairing code to scan" shape-rendering="crispEdges"><rect width="%d" height="%d" fill="#fff"/><path d="%s" fill="#000"/></svg>`,
		side, side, side, side, path.String())), nil
}

func (b *Bench) unpair(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return badInput(err)
	}
	if err := b.sessions.Remove(f.text("device")); err != nil {
		return err
	}
	http.Redirect(w, r, "/pair", http.StatusSeeOther)
	return nil
}

type landingData struct {
	Token string
	Role  guard.Role
	Print string
}

// pairLanding asks before the code is used up: a camera may look at a link
// without anybody wanting it.
func (b *Bench) pairLanding(w http.ResponseWriter, r *http.Request) error {
	offer, err := b.sessions.Peek(r.PathValue("token"))
	if err != nil {
		return err
	}
	p := b.page(r, "Pair this device")
	p.Data = landingData{r.PathValue("token"), offer.Role, b.authority.Fingerprint()}
	return b.show(w, "landing", p)
}

func (b *Bench) pairTake(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return badInput(err)
	}
	name := []rune(f.text("name"))
	key, session, err := b.sessions.Pair(r.PathValue("token"), string(name[:min(len(name), 40)]))
	if err != nil {
		return err
	}
	guard.SetCookie(w, r, key, session.Until)
	next := "/"
	switch {
	case session.Role == guard.Sensor && session.Job > 0:
		next = fmt.Sprintf("/sensor?job=%d", session.Job)
	case session.Role == guard.Sensor:
		next = "/sensor"
	case session.Job > 0:
		next = fmt.Sprintf("/jobs/%d", session.Job)
	}
	http.Redirect(w, r, next, http.StatusSeeOther)
	return nil
}

func (b *Bench) certificatePage(w http.ResponseWriter, r *http.Request) error {
	p := b.page(r, "Workshop certificate")
	p.Data = b.authority.Fingerprint()
	return b.show(w, "certificate", p)
}

func (b *Bench) certificateFile(w http.ResponseWriter, _ *http.Request) error {
	w.Header().Set("Content-Type", "application/x-x509-ca-cert")
	w.Header().Set("Content-Disposition", `attachment; filename="halforder-workshop.crt"`)
	_, err := w.Write(b.authority.DER())
	return err
}
