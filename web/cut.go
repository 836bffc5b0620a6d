package web

import "net/http"

type cutRun struct{ cancel func() }

func (b *Bench) cutPage(w http.ResponseWriter, r *http.Request) error {
	return wrong(http.StatusNotImplemented, "not here yet")
}
func (b *Bench) cutDo(w http.ResponseWriter, r *http.Request) error {
	return wrong(http.StatusNotImplemented, "not here yet")
}
