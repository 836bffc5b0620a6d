package sqlite

import (
	"context"
	"database/sql"
	"fmt"

	"halforder/job"
)

// Create begins a card.
func (s *Store) Create(ctx context.Context, first job.Event) (id job.ID, err error) {
	err = s.write(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, "INSERT INTO job DEFAULT VALUES")
		if err != nil {
			return err
		}
		n, err := result.LastInsertId()
		id = job.ID(n)
		if err != nil {
			return err
		}
		return insert(ctx, tx, id, 0, []job.Event{first})
	})
	return id, err
}

// Append adds to a card, all or none.
func (s *Store) Append(ctx context.Context, id job.ID, after int64, events ...job.Event) error {
	return s.write(ctx, func(tx *sql.Tx) error {
		var last int64
		if err := tx.QueryRowContext(ctx, "SELECT coalesce(max(seq), 0) FROM event WHERE job = ?", id).Scan(&last); err != nil {
			return err
		}
		switch {
		case last == 0:
			return fmt.Errorf("job %d: %w", id, job.ErrNoJob)
		case last != after:
			return fmt.Errorf("job %d: %w", id, job.ErrMoved)
		}
		return insert(ctx, tx, id, after, events)
	})
}

func (s *Store) write(ctx context.Context, change func(*sql.Tx) error) error {
	tx, err := s.writer.BeginTx(ctx, nil)
	if err != nil {
		return translate(err)
	}
	defer tx.Rollback() //nolint:errcheck // nothing to undo after Commit
	if err := change(tx); err != nil {
		return translate(err)
	}
	return translate(tx.Commit())
}

func insert(ctx context.Context, tx *sql.Tx, id job.ID, after int64, events []job.Event) error {
	for i, e := range events {
		e.Seq = after + int64(i) + 1
		data, err := job.EncodeEvent(e)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "INSERT INTO event (job, seq, event) VALUES (?, ?, ?)", id, e.Seq, string(data)); err != nil {
			return err
		}
	}
	return nil
}

// Events reads a card in order.
func (s *Store) Events(ctx context.Context, id job.ID) ([]job.Event, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT event FROM event WHERE job = ? ORDER BY seq", id)
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var events []job.Event
	for rows.Next() {
		var data sql.RawBytes
		if err := rows.Scan(&data); err != nil {
			return nil, translate(err)
		}
		e, err := job.DecodeEvent(data)
		if err != nil {
			return nil, fmt.Errorf("job %d, event %d: %w", id, len(events)+1, err)
		}
		events = append(events, e)
	}
	if err := rows.Err(); err != nil {
		return nil, translate(err)
	}
	if len(events) == 0 {
		return nil, fmt.Errorf("job %d: %w", id, job.ErrNoJob)
	}
	return events, nil
}

// Jobs lists all cards, newest first.
func (s *Store) Jobs(ctx context.Context) ([]job.ID, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT id FROM job ORDER BY id DESC")
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var out []job.ID
	for rows.Next() {
		var id job.ID
		if err := rows.Scan(&id); err != nil {
			return nil, translate(err)
		}
		out = append(out, id)
	}
	return out, translate(rows.Err())
}
