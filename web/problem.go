package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"halforder/job"
	"halforder/web/guard"
	"halforder/web/take"
)

// problem is a refusal with words for the person at the screen.
type problem struct {
	status int
	words  string
}

func (p *problem) Error() string { return p.words }

func wrong(status int, format string, args ...any) error {
	return &problem{status, fmt.Sprintf(format, args...)}
}

// badInput makes an error of what was typed.
func badInput(err error) error {
	var tooLarge *http.MaxBytesError
	var known *problem
	if err == nil || errors.As(err, &tooLarge) || errors.As(err, &known) {
		return err
	}
	return &problem{http.StatusUnprocessableEntity, err.Error()}
}

// judge finds the status and the words of an error.
func judge(err error) (int, string) {
	var known *problem
	var tooLarge *http.MaxBytesError
	var ahead *take.AheadError
	switch {
	case errors.As(err, &known):
		return known.status, known.words
	case errors.As(err, &tooLarge):
		return http.StatusRequestEntityTooLarge, fmt.Sprintf("that is too large: at most %d kB can be sent here", tooLarge.Limit>>10)
	case errors.As(err, &ahead):
		return http.StatusConflict, err.Error()
	case errors.Is(err, job.ErrNoJob), errors.Is(err, take.ErrNoTake), errors.Is(err, job.ErrNoRecording), errors.Is(err, guard.ErrNoOffer):
		return http.StatusNotFound, err.Error()
	case errors.As(err, new(*job.MisfitError)), errors.Is(err, take.ErrFinished):
		return http.StatusUnprocessableEntity, err.Error()
	case errors.Is(err, job.ErrDiskFull):
		return http.StatusInsufficientStorage, err.Error()
	}
	return http.StatusInternalServerError, "that could not be done, nothing was changed: " + err.Error()
}

func (b *Bench) fail(w http.ResponseWriter, r *http.Request, err error) {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return // nobody listens any more
	}
	status, words := judge(err)
	if status >= 500 {
		b.Log.Error("request failed", "path", r.URL.Path, "error", err)
	}
	b.refuse(w, r, status, words)
}

// refuse answers with a message, as JSON where a script asked.
func (b *Bench) refuse(w http.ResponseWriter, r *http.Request, status int, words string) {
	if strings.Contains(r.Header.Get("Accept"), "application/json") {
		writeJSON(w, status, map[string]string{"error": words})
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	p := b.page(r, "Not done")
	p.Data = words
	if err := b.pages.render(w, "problem", p); err != nil {
		b.Log.Error("page", "error", err)
	}
}

func writeJSON(w http.ResponseWriter, status int, v any) error {
	data, err := json.Marshal(v)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	w.Write(data)
	return nil
}
