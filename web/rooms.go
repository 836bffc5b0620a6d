package web

import (
	"net/http"

	"halforder/job"
)

type rooms struct{ b *Bench }

func newRooms(b *Bench) *rooms { return &rooms{b} }

func (r *rooms) isPractice(job.ID) bool    { return false }
func (r *rooms) changed(*job.Card)         {}
func (r *rooms) close()                    {}
func (b *Bench) liveRoutes(*http.ServeMux) {}
