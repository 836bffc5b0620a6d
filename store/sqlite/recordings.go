package sqlite

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"halforder/job"
)

// SaveRecording writes to a temporary file and renames it to its hash, so that
// a crash leaves either the whole recording or none.
func (s *Store) SaveRecording(ctx context.Context, r io.Reader) (sum string, size int64, err error) {
	tmp, err := os.CreateTemp(filepath.Join(s.dir, recordingsDir), ".incoming-*")
	if err != nil {
		return "", 0, translate(err)
	}
	defer os.Remove(tmp.Name()) // gone already once it is renamed
	hash := sha256.New()
	size, err = io.Copy(io.MultiWriter(tmp, hash), contextReader{ctx, r})
	if err == nil {
		err = tmp.Sync()
	}
	if closeErr := tmp.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return "", 0, translate(err)
	}
	sum = hex.EncodeToString(hash.Sum(nil))
	return sum, size, translate(s.settle(tmp.Name(), sum))
}

// settle moves a finished file to its place and flushes the folder's entry.
func (s *Store) settle(tmp, sum string) error {
	path := s.recordingPath(sum)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	if err := os.Rename(tmp, path); err != nil {
		return err
	}
	folder, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	defer folder.Close()
	return folder.Sync()
}

// OpenRecording reads a recording back.
func (s *Store) OpenRecording(_ context.Context, sum string) (io.ReadCloser, error) {
	if raw, err := hex.DecodeString(sum); err != nil || len(raw) != sha256.Size {
		return nil, fmt.Errorf("%q is not a SHA-256: %w", sum, job.ErrNoRecording)
	}
	f, err := os.Open(s.recordingPath(sum))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: %w", sum, job.ErrNoRecording)
	}
	return f, err
}

// recordingPath spreads files over 256 folders: a workshop keeps thousands.
func (s *Store) recordingPath(sum string) string {
	return filepath.Join(s.dir, recordingsDir, sum[:2], sum)
}

// contextReader stops a long copy when its context ends.
type contextReader struct {
	ctx context.Context
	r   io.Reader
}

func (c contextReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}
