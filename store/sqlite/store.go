// Package sqlite keeps job cards in one SQLite file, with recordings beside it
// as plain files named by their SHA-256.
//
// Two processes may use one store: writers take turns (BEGIN IMMEDIATE), and a
// card that moved meanwhile is reported, not overwritten. Every commit is
// flushed to the disk before it is acknowledged.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"

	"halforder/job"

	_ "modernc.org/sqlite" // the driver
)

const (
	fileName      = "jobs.db"
	recordingsDir = "recordings"
)

// Store is a job.Store in a folder.
type Store struct {
	dir    string
	writer *sql.DB // one connection: SQLite allows one writer
	reader *sql.DB
}

var _ job.Store = (*Store)(nil)

// Open opens the store in dir, and makes it when there is none. It fails with
// job.ErrNewerStore or job.ErrNotAStore and leaves such a folder untouched.
func Open(ctx context.Context, dir string) (*Store, error) {
	s, err := open(ctx, dir)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", dir, translate(err))
	}
	return s, nil
}

func open(ctx context.Context, dir string) (*Store, error) {
	if err := os.MkdirAll(filepath.Join(dir, recordingsDir), 0o755); err != nil {
		return nil, err
	}
	path := filepath.Join(dir, fileName)
	s := &Store{dir: dir}
	var err error
	if s.writer, err = sql.Open("sqlite", dsn(path, "immediate")); err != nil {
		return nil, err
	}
	s.writer.SetMaxOpenConns(1)
	if err := prepare(ctx, s.writer); err != nil {
		return nil, errors.Join(err, s.writer.Close())
	}
	if s.reader, err = sql.Open("sqlite", dsn(path, "deferred")); err != nil {
		return nil, errors.Join(err, s.writer.Close())
	}
	return s, nil
}

// dsn waits ten seconds for another writer and flushes every commit.
func dsn(path, lock string) string {
	q := url.Values{"_txlock": {lock}, "_pragma": {
		"busy_timeout(10000)", "synchronous(FULL)", "foreign_keys(ON)"}}
	return "file:" + (&url.URL{Path: path}).EscapedPath() + "?" + q.Encode()
}

// Close releases the files.
func (s *Store) Close() error { return errors.Join(s.reader.Close(), s.writer.Close()) }
