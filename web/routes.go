package web

import (
	"net/http"

	"halforder/web/guard"
)

// handler serves one route; its error becomes a message.
type handler func(w http.ResponseWriter, r *http.Request) error

var (
	anybody = []guard.Role{guard.Bench, guard.Sensor, guard.Guest}
	viewers = []guard.Role{guard.Bench, guard.Guest}
	workers = []guard.Role{guard.Bench}
	senders = []guard.Role{guard.Bench, guard.Sensor}
)

func (b *Bench) routes() http.Handler {
	mux := http.NewServeMux()
	open := func(pattern string, h handler) { mux.Handle(pattern, b.serve(h)) }
	open("GET /static/{version}/{file}", b.static)
	open("GET /certificate", b.certificatePage)
	open("GET /certificate/halforder-workshop.crt", b.certificateFile)
	open("GET /pair/{token}", b.pairLanding)
	open("POST /pair/{token}", b.pairTake)

	for pattern, h := range map[string]handler{
		"GET /{$}": b.jobsPage, "GET /jobs/{id}": b.jobPage, "GET /jobs/{id}/cylinder/{n}": b.cylinderPage,
		"GET /jobs/{id}/next": b.nextPage, "GET /jobs/{id}/parts": b.partsPage,
		"GET /jobs/{id}/checks": b.checksPage, "GET /jobs/{id}/checks/{check}": b.checkPage,
		"GET /jobs/{id}/card": b.cardPage, "GET /jobs/{id}/money": b.moneyPage, "GET /jobs/{id}/proof": b.proofPage,
		"GET /jobs/{id}/report": b.reportPage, "GET /jobs/{id}/report.html": b.reportFile,
		"GET /jobs/{id}/plot/{seq}/{n}": b.plotData, "GET /jobs/{id}/picture/{seq}": b.picture,
	} {
		mux.Handle(pattern, b.serve(b.only(viewers, h)))
	}
	for pattern, h := range map[string]handler{
		"GET /new": b.newPage, "POST /new": b.newJob, "GET /engine": b.enginePart,
		"GET /pair": b.pairPage, "POST /pair": b.pairPage, "POST /unpair": b.unpair,
		"POST /jobs/{id}/numbering":      b.confirmNumbering,
		"POST /jobs/{id}/checks/{check}": b.enterCheck, "POST /jobs/{id}/swap": b.swap, "POST /jobs/{id}/watch": b.watchSwap,
		"POST /jobs/{id}/renew": b.renew, "POST /jobs/{id}/mend": b.mend, "POST /jobs/{id}/agree": b.agree,
		"POST /jobs/{id}/note": b.note, "POST /jobs/{id}/codes": b.codes, "POST /jobs/{id}/undo": b.undo,
		"POST /jobs/{id}/prove": b.prove, "POST /jobs/{id}/close": b.closeJob,
	} {
		mux.Handle(pattern, b.serve(b.only(workers, h)))
	}
	b.liveRoutes(mux)
	mux.Handle("/", b.serve(func(http.ResponseWriter, *http.Request) error {
		return wrong(http.StatusNotFound, "there is no such page: go back to the list of jobs")
	}))
	return mux
}

func (b *Bench) serve(h handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			b.fail(w, r, err)
		}
	})
}

// only lets sessions of some roles through.
func (b *Bench) only(roles []guard.Role, h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		s, ok := guard.Of(r)
		switch {
		case !ok:
			return wrong(http.StatusUnauthorized, "this device is not paired, or its day is over: scan the code that the bench shows under “Pair a device”")
		case !s.May(roles...) && s.Role == guard.Sensor && r.Method == http.MethodGet:
			http.Redirect(w, r, "/sensor", http.StatusSeeOther)
			return nil
		case !s.May(roles...):
			return wrong(http.StatusForbidden, "this device is paired as %s and may not do that: pair it again as bench", s.Role)
		}
		return h(w, r)
	}
}
