// Package storetest is the suite every job.Store passes.
package storetest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"reflect"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"time"

	"halforder/job"
)

// Run checks a store kind. open opens the store of one test again and again:
// each call with the same t gives the same, kept, contents.
func Run(t *testing.T, open func(t *testing.T) job.Store) {
	for name, check := range map[string]func(*testing.T, func(*testing.T) job.Store){
		"cards keep their events":           keepsEvents,
		"append is all or none":             appendsAllOrNone,
		"a moved card is reported":          reportsMovedCard,
		"jobs that are not there":           unknownJobs,
		"recordings by hash":                keepsRecordings,
		"a torn recording leaves nothing":   dropsTornRecording,
		"writers in parallel take turns":    parallelWriters,
		"an ended context stops the writer": obeysContext,
	} {
		t.Run(name, func(t *testing.T) { check(t, open) })
	}
}

var moment = time.Date(2026, 3, 9, 8, 30, 0, 123, time.UTC)

func note(text string) job.Event {
	return job.Event{At: moment, By: "Ines", Body: &job.Noted{Text: text}}
}

func create(t *testing.T, s job.Store, text string) job.ID {
	t.Helper()
	id, err := s.Create(t.Context(), note(text))
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func events(t *testing.T, s job.Store, id job.ID) []job.Event {
	t.Helper()
	got, err := s.Events(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func keepsEvents(t *testing.T, open func(*testing.T) job.Store) {
	s := open(t)
	id := create(t, s, "first")
	if err := s.Append(t.Context(), id, 1, note("second"), note("third")); err != nil {
		t.Fatal(err)
	}
	other := create(t, s, "another car")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t)
	want := []job.Event{note("first"), note("second"), note("third")}
	for i := range want {
		want[i].Seq = int64(i) + 1
	}
	if got := events(t, s, id); !reflect.DeepEqual(got, want) {
		t.Errorf("read back %+v, want %+v", got, want)
	}
	if got, err := s.Jobs(t.Context()); err != nil || !reflect.DeepEqual(got, []job.ID{other, id}) {
		t.Errorf("jobs %v (%v), want newest first", got, err)
	}
}

func appendsAllOrNone(t *testing.T, open func(*testing.T) job.Store) {
	s := open(t)
	id := create(t, s, "first")
	unstorable := job.Event{At: time.Date(20000, 1, 1, 0, 0, 0, 0, time.UTC), Body: &job.Noted{Text: "a year JSON cannot hold"}}
	if err := s.Append(t.Context(), id, 1, note("second"), unstorable); err == nil {
		t.Fatal("an event that cannot be stored was accepted")
	}
	if got := events(t, s, id); len(got) != 1 {
		t.Errorf("%d events after a failed append, want 1", len(got))
	}
}

func reportsMovedCard(t *testing.T, open func(*testing.T) job.Store) {
	s := open(t)
	id := create(t, s, "first")
	if err := s.Append(t.Context(), id, 1, note("second")); err != nil {
		t.Fatal(err)
	}
	for _, after := range []int64{0, 1, 3} {
		if err := s.Append(t.Context(), id, after, note("late")); !errors.Is(err, job.ErrMoved) {
			t.Errorf("append after %d of 2: %v, want ErrMoved", after, err)
		}
	}
}

func unknownJobs(t *testing.T, open func(*testing.T) job.Store) {
	s := open(t)
	if _, err := s.Events(t.Context(), 77); !errors.Is(err, job.ErrNoJob) {
		t.Errorf("events of no job: %v, want ErrNoJob", err)
	}
	if err := s.Append(t.Context(), 77, 0, note("x")); !errors.Is(err, job.ErrNoJob) {
		t.Errorf("append to no job: %v, want ErrNoJob", err)
	}
	if got, err := s.Jobs(t.Context()); err != nil || len(got) != 0 {
		t.Errorf("an empty store lists %v (%v)", got, err)
	}
}

func keepsRecordings(t *testing.T, open func(*testing.T) job.Store) {
	s := open(t)
	data := bytes.Repeat([]byte("idle"), 50_000)
	hash := sha256.Sum256(data)
	want := hex.EncodeToString(hash[:])
	for range 2 { // the same bytes twice are kept once
		sum, size, err := s.SaveRecording(t.Context(), bytes.NewReader(data))
		if err != nil || sum != want || size != int64(len(data)) {
			t.Fatalf("saved as %s, %d bytes (%v), want %s", sum, size, err, want)
		}
	}
	r, err := s.OpenRecording(t.Context(), want)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if got, err := io.ReadAll(r); err != nil || !bytes.Equal(got, data) {
		t.Errorf("read back %d bytes (%v), want %d", len(got), err, len(data))
	}
	for _, missing := range []string{strings.Repeat("0", 64), "", "../../etc/passwd"} {
		if _, err := s.OpenRecording(t.Context(), missing); !errors.Is(err, job.ErrNoRecording) {
			t.Errorf("recording %q: %v, want ErrNoRecording", missing, err)
		}
	}
}

func dropsTornRecording(t *testing.T, open func(*testing.T) job.Store) {
	s := open(t)
	cause := errors.New("cable pulled")
	torn := io.MultiReader(strings.NewReader("half"), iotest.ErrReader(cause))
	if _, _, err := s.SaveRecording(t.Context(), torn); !errors.Is(err, cause) {
		t.Fatalf("a torn recording: %v, want its cause", err)
	}
	hash := sha256.Sum256([]byte("half"))
	if _, err := s.OpenRecording(t.Context(), hex.EncodeToString(hash[:])); !errors.Is(err, job.ErrNoRecording) {
		t.Errorf("half a recording stayed: %v", err)
	}
}

func parallelWriters(t *testing.T, open func(*testing.T) job.Store) {
	a, b := open(t), open(t)
	id := create(t, a, "first")
	const each = 20
	var wait sync.WaitGroup
	for _, s := range []job.Store{a, b} {
		wait.Go(func() {
			for range each {
				if err := appendWithRetry(t.Context(), s, id); err != nil {
					t.Errorf("append: %v", err)
					return
				}
			}
		})
	}
	wait.Wait()
	for i, e := range events(t, a, id) {
		if e.Seq != int64(i)+1 {
			t.Fatalf("event %d has number %d", i+1, e.Seq)
		}
	}
	if n := len(events(t, b, id)); n != 1+2*each {
		t.Errorf("%d events, want %d", n, 1+2*each)
	}
}

func appendWithRetry(ctx context.Context, s job.Store, id job.ID) error {
	for {
		past, err := s.Events(ctx, id)
		if err != nil {
			return err
		}
		err = s.Append(ctx, id, int64(len(past)), note("more"))
		if !errors.Is(err, job.ErrMoved) {
			return err
		}
	}
}

func obeysContext(t *testing.T, open func(*testing.T) job.Store) {
	s := open(t)
	id := create(t, s, "first")
	ended, stop := context.WithCancel(t.Context())
	stop()
	if err := s.Append(ended, id, 1, note("late")); !errors.Is(err, context.Canceled) {
		t.Errorf("append after the end: %v, want context.Canceled", err)
	}
	if _, _, err := s.SaveRecording(ended, strings.NewReader("late")); !errors.Is(err, context.Canceled) {
		t.Errorf("recording after the end: %v, want context.Canceled", err)
	}
	if n := len(events(t, s, id)); n != 1 {
		t.Errorf("%d events, want 1", n)
	}
}
