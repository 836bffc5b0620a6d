package sqlite

import (
	"context"
	"database/sql"
	"fmt"

	"halforder/job"
)

const (
	// applicationID marks the file as ours, in SQLite's own header field.
	applicationID = 0x48616c66
	// version of the schema below.
	version = 1
)

const schema = `
CREATE TABLE job (id INTEGER PRIMARY KEY AUTOINCREMENT);
CREATE TABLE event (
	job   INTEGER NOT NULL REFERENCES job(id),
	seq   INTEGER NOT NULL CHECK (seq > 0),
	event TEXT    NOT NULL,
	PRIMARY KEY (job, seq)
) WITHOUT ROWID;
CREATE TRIGGER event_stays BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER event_kept  BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END;
`

// prepare checks whose file this is before it writes anything, then brings it
// to the current schema. Two processes may race here: the check is repeated
// inside the transaction.
func prepare(ctx context.Context, db *sql.DB) error {
	if fresh, err := inspect(ctx, db); err != nil || !fresh {
		return err
	}
	if _, err := db.ExecContext(ctx, "PRAGMA journal_mode=WAL"); err != nil {
		return err
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // nothing to undo after Commit
	if fresh, err := inspect(ctx, tx); err != nil || !fresh {
		return err
	}
	for _, statement := range []string{schema,
		fmt.Sprintf("PRAGMA application_id=%d", applicationID), fmt.Sprintf("PRAGMA user_version=%d", version)} {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return err
		}
	}
	return tx.Commit()
}

type queryer interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// inspect reports whether the file is still empty, and refuses one that is not
// ours or is newer than this program.
func inspect(ctx context.Context, q queryer) (fresh bool, err error) {
	var id, found, tables int
	for query, dst := range map[string]*int{
		"PRAGMA application_id": &id, "PRAGMA user_version": &found, "SELECT count(*) FROM sqlite_master": &tables} {
		if err := q.QueryRowContext(ctx, query).Scan(dst); err != nil {
			return false, err
		}
	}
	switch {
	case tables == 0 && id == 0 && found == 0:
		return true, nil
	case id != applicationID:
		return false, job.ErrNotAStore
	case found > version:
		return false, job.ErrNewerStore
	}
	return false, nil
}
