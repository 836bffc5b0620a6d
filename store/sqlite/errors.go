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
	case sqlite3.SQLITE_IOERR: // as on a disk too full for the store's own bookkeeping
		return because(errDisk, err)
	case sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM:
		return because(errNotWritable, err)
	}
	return err
}

// because is one line: what it means for the person, then what the disk said.
func because(meaning, cause error) error { return fmt.Errorf("%w (%w)", meaning, cause) }

var (
	errBusy        = errors.New("another program is using the store: wait a moment and repeat")
	errDisk        = errors.New("the disk is full or failing: free some space and repeat")
	errNotWritable = errors.New("the folder cannot be written to: name another with --store, or copy this one to where you may write")
)
