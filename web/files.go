package web

import "net/http"

func (b *Bench) filesPage(w http.ResponseWriter, r *http.Request) error {
	return wrong(http.StatusNotImplemented, "not here yet")
}
func (b *Bench) enterTable(w http.ResponseWriter, r *http.Request) error {
	return wrong(http.StatusNotImplemented, "not here yet")
}
