package guard

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"sync"
	"time"
)

// OfferTime is how long a pairing code works; SessionTime how long a paired
// device stays paired: a working day.
const (
	OfferTime   = 5 * time.Minute
	SessionTime = 14 * time.Hour
	mostOffers  = 64
	mostPaired  = 256
)

// ErrNoOffer is a pairing code that was used, has expired, or never was.
var ErrNoOffer = errors.New("this pairing code has been used or has expired: show a fresh one on the tablet and scan again")

// Offer is a pairing code that waits to be scanned.
type Offer struct {
	Role  Role
	Job   int64
	Until time.Time
}

// Sessions keeps the paired devices, on disk so that a restart loses none.
type Sessions struct {
	mu     sync.Mutex
	file   string
	now    func() time.Time
	offers map[string]Offer
	paired map[string]Session
}

// OpenSessions reads the paired devices from a file, which may not exist yet.
func OpenSessions(file string, now func() time.Time) (*Sessions, error) {
	s := &Sessions{file: file, now: now, offers: map[string]Offer{}, paired: map[string]Session{}}
	data, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return s, nil
	}
	if err != nil {
		return nil, fmt.Errorf("paired devices: %w", err)
	}
	if err := json.Unmarshal(data, &s.paired); err != nil {
		return nil, fmt.Errorf("paired devices: %s is damaged, delete it and pair again: %w", filepath.Base(file), err)
	}
	return s, nil
}

// Offer makes a pairing code.
func (s *Sessions) Offer(role Role, job int64) (token string, o Offer) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.forgetOld()
	token, o = secret(), Offer{role, job, s.now().Add(OfferTime)}
	if len(s.offers) >= mostOffers {
		clear(s.offers) // a page left open, reloading for ever
	}
	s.offers[token] = o
	return token, o
}

// Peek tells what a pairing code offers without using it up.
func (s *Sessions) Peek(token string) (Offer, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.forgetOld()
	if o, ok := s.offers[token]; ok {
		return o, nil
	}
	return Offer{}, ErrNoOffer
}

// Pair uses up a pairing code. The secret belongs into the device's cookie.
func (s *Sessions) Pair(token, name string) (string, Session, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.forgetOld()
	o, ok := s.offers[token]
	switch {
	case !ok:
		return "", Session{}, ErrNoOffer
	case len(s.paired) >= mostPaired:
		return "", Session{}, errors.New("too many devices are paired: remove some on the tablet")
	}
	delete(s.offers, token)
	key := secret()
	session := Session{ID: hash(key), Role: o.Role, Job: o.Job, Name: name, Until: s.now().Add(SessionTime)}
	s.paired[session.ID] = session
	return key, session, s.save()
}

// Find is the session of a secret.
func (s *Sessions) Find(key string) (Session, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	session, ok := s.paired[hash(key)]
	return session, ok && s.now().Before(session.Until)
}

// List lists the paired devices, the latest first.
func (s *Sessions) List() []Session {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.forgetOld()
	var out []Session
	for _, session := range s.paired {
		out = append(out, session)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Until.After(out[j].Until) })
	return out
}

// Remove ends a session.
func (s *Sessions) Remove(id string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.paired, id)
	return s.save()
}

func (s *Sessions) forgetOld() {
	now := s.now()
	for token, o := range s.offers {
		if !now.Before(o.Until) {
			delete(s.offers, token)
		}
	}
	for id, session := range s.paired {
		if !now.Before(session.Until) {
			delete(s.paired, id)
		}
	}
}

func (s *Sessions) save() error {
	data, err := json.Marshal(s.paired)
	if err != nil {
		return err
	}
	tmp := s.file + ".new"
	if err := os.WriteFile(tmp, data, 0o600); err != nil {
		return fmt.Errorf("paired devices: %w", err)
	}
	return os.Rename(tmp, s.file)
}

// secret is 144 random bits, short enough for a QR code a phone reads at once.
func secret() string {
	var b [18]byte
	rand.Read(b[:])
	return base64.RawURLEncoding.EncodeToString(b[:])
}

func hash(key string) string {
	sum := sha256.Sum256([]byte(key))
	return hex.EncodeToString(sum[:16])
}
