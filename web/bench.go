package web

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"time"

	"halforder/job"
	"halforder/reason/fault"
	"halforder/web/cert"
	"halforder/web/guard"
	"halforder/web/take"
)

// Config is what a bench needs from the world.
type Config struct {
	Store     job.Store
	Catalogue *fault.Catalogue
	Dir       string // the bench keeps certificates, pairings and unfinished recordings here
	Now       func() time.Time
	ReadOnly  bool         // nobody may change anything
	Log       *slog.Logger // nil: nothing is logged
	// PracticeSpeed is how much faster than real time practice engines run; 0
	// is real time.
	PracticeSpeed float64
	// PhonePort is where the HTTPS server listens, "" when there is none.
	PhonePort func() string
}

// Bench serves the pages. Make it with New.
type Bench struct {
	Config
	book      job.Book
	sessions  *guard.Sessions
	authority *cert.Authority
	takes     *take.Store
	pages     *pages
	live      *rooms
	thinking  *thinking
	closings  *closings
	judgedBy  memory[job.ID, judged]

	namesMu sync.Mutex
	names   []string
	namesAt time.Time
}

// New opens a bench.
func New(c Config) (*Bench, error) {
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if err := os.MkdirAll(c.Dir, 0o700); err != nil {
		return nil, fmt.Errorf("bench: %w", err)
	}
	b := &Bench{Config: c, book: job.Book{Store: c.Store, Now: c.Now}, thinking: newThinking(), closings: newClosings(),
		judgedBy: newMemory[job.ID, judged](mostJudged)}
	var err, err2, err3, err4 error
	b.sessions, err = guard.OpenSessions(filepath.Join(c.Dir, "paired.json"), c.Now)
	b.authority, err2 = cert.Open(c.Dir, c.Now)
	b.takes, err3 = take.Open(filepath.Join(c.Dir, "recordings"))
	b.pages, err4 = loadPages()
	if err := errors.Join(err, err2, err3, err4); err != nil {
		return nil, fmt.Errorf("bench: %w", err)
	}
	b.live = newRooms(b)
	return b, nil
}

// TLS is the configuration for the phones' server.
func (b *Bench) TLS() *tls.Config { return b.authority.TLS(b.hosts) }

// hosts are this machine's names and addresses, looked up now and then: a
// laptop changes networks.
func (b *Bench) hosts() []string {
	b.namesMu.Lock()
	defer b.namesMu.Unlock()
	if now := time.Now(); now.Sub(b.namesAt) > 10*time.Second {
		b.names, b.namesAt = cert.LocalNames(), now
	}
	return b.names
}

// syncEvery is how long a phone must keep what it has sent.
const syncEvery = 500 * time.Millisecond

// Run does what goes on without a request until ctx ends.
func (b *Bench) Run(ctx context.Context) {
	tick := time.NewTicker(syncEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			if err := b.takes.Sync(); err != nil {
				b.Log.Error("recordings could not be brought to the disk", "error", err)
			}
		}
	}
}

// Close ends what is live; recordings under way go on at the next start.
func (b *Bench) Close() error {
	b.live.close()
	return b.takes.Close()
}

// Handler serves the bench.
func (b *Bench) Handler() http.Handler {
	g := &guard.Guard{Sessions: b.sessions, ReadOnly: b.ReadOnly, Hosts: b.hosts, Now: b.Now, Log: b.Log, Limit: bodyLimit, Refuse: b.refuse}
	return g.Wrap(b.routes())
}
