package take

import (
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"sync"
)

// mostOpen is how many takes may be under way: a workshop has fewer phones.
const mostOpen = 64

// ErrNoTake is a take that is not there (any more).
var ErrNoTake = errors.New("there is no such recording under way: begin a new one")

// Store keeps the takes that are under way in a folder.
type Store struct {
	dir   string
	mu    sync.Mutex
	takes map[string]*Take
}

// Open reads the takes that a stopped server left behind.
func Open(dir string) (*Store, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	s := &Store{dir: dir, takes: map[string]*Take{}}
	for _, e := range entries {
		t, err := reopen(filepath.Join(dir, e.Name()))
		if errors.Is(err, fs.ErrNotExist) {
			continue // died before its head was written: nothing was acknowledged
		}
		if err != nil {
			return nil, fmt.Errorf("recording under way %s: %w", e.Name(), err)
		}
		s.takes[t.ID] = t
	}
	return s, nil
}

func reopen(dir string) (*Take, error) {
	data, err := os.ReadFile(filepath.Join(dir, "head.json"))
	if err != nil {
		return nil, err
	}
	var head Head
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf("head.json is damaged: %w", err)
	}
	head.ID = filepath.Base(dir)
	if err := head.Check(); err != nil {
		return nil, err
	}
	return openTake(dir, head)
}

// Begin opens a take; the same key gives the same take again.
func (s *Store) Begin(head Head) (*Take, error) {
	if err := head.Check(); err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, t := range s.takes {
		if t.Key == head.Key && t.Job == head.Job {
			return t, nil
		}
	}
	if len(s.takes) >= mostOpen {
		return nil, fmt.Errorf("%d recordings are under way already: finish some", len(s.takes))
	}
	var id [9]byte
	rand.Read(id[:])
	head.ID = hex.EncodeToString(id[:])
	t, err := s.create(head)
	if err == nil {
		s.takes[t.ID] = t
	}
	return t, err
}

func (s *Store) create(head Head) (*Take, error) {
	dir := filepath.Join(s.dir, head.ID)
	if err := os.Mkdir(dir, 0o700); err != nil {
		return nil, err
	}
	data, err := json.Marshal(head)
	if err != nil {
		return nil, err
	}
	tmp := filepath.Join(dir, "head.new")
	if err := os.WriteFile(tmp, data, 0o600); err != nil {
		return nil, err
	}
	if err := os.Rename(tmp, filepath.Join(dir, "head.json")); err != nil {
		return nil, err
	}
	return openTake(dir, head)
}

// Get finds a take under way.
func (s *Store) Get(id string) (*Take, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if t, ok := s.takes[id]; ok {
		return t, nil
	}
	return nil, ErrNoTake
}

// List lists the takes under way, oldest first.
func (s *Store) List() []*Take {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []*Take
	for _, t := range s.takes {
		out = append(out, t)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Began.Before(out[j].Began) })
	return out
}

// Remove drops a take: it has been kept elsewhere, or nobody wants it.
func (s *Store) Remove(id string) error {
	s.mu.Lock()
	t, ok := s.takes[id]
	delete(s.takes, id)
	s.mu.Unlock()
	if !ok {
		return ErrNoTake
	}
	t.mu.Lock()
	t.done = true
	err := t.file.Close()
	t.mu.Unlock()
	return errors.Join(err, os.RemoveAll(t.dir))
}

// Sync brings all takes to the disk.
func (s *Store) Sync() error {
	var errs []error
	for _, t := range s.List() {
		errs = append(errs, t.Sync())
	}
	return errors.Join(errs...)
}

// Close leaves all takes as they are for the next start.
func (s *Store) Close() error {
	var errs []error
	for _, t := range s.List() {
		errs = append(errs, t.Sync())
		t.mu.Lock()
		t.done = true
		errs = append(errs, t.file.Close())
		t.mu.Unlock()
	}
	return errors.Join(errs...)
}
