package sqlite

import (
	"errors"
	"fmt"
	"syscall"

	"halforder/job"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// translate gives the errors a person can act on their own words and keeps the
// cause. Other errors pass.
func translate(err error) error {
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		return because(job.ErrDiskFull, err)
	}
	var failure *sqlite.Error
	if !errors.As(err, &failure) {
		return err
	}
	switch failure.Code() & 0xff { // the primary code, without its extension
	case sqlite3.SQLITE_FULL:
		return because(job.ErrDiskFull, err)
	case sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT:
		return because(job.ErrNotAStore, err)
	case sqlite3.SQLITE_BUSY:
		return because(errBusy, err)
	}
	return err
}

// because is one line: what it means for the person, then what the disk said.
func because(meaning, cause error) error { return fmt.Errorf("%w (%w)", meaning, cause) }

var errBusy = errors.New("another program is using the store: wait a moment and repeat")
