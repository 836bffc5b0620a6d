package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"halforder/reason/fault"
	"halforder/store/sqlite"
)

// withStore opens the store and the catalogue for one command.
func (r *run) withStore(work func(dir string, store *sqlite.Store, catalogue *fault.Catalogue) error) (err error) {
	dir, err := r.storeFolder()
	if err != nil {
		return err
	}
	store, err := sqlite.Open(r, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	catalogue, err := fault.ForShop(filepath.Join(dir, "catalogue"))
	if err != nil {
		return err
	}
	return work(dir, store, catalogue)
}

// storeFolder is the folder asked for, else the user's own.
func (r *run) storeFolder() (string, error) {
	if r.storeDir != "" {
		return r.storeDir, nil
	}
	return defaultStore()
}

// defaultStore is where data of a user's programs belongs.
func defaultStore() (string, error) {
	if dir := os.Getenv("XDG_DATA_HOME"); dir != "" {
		return filepath.Join(dir, "halforder"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", badInput(fmt.Errorf("no home folder to keep jobs in: name one with --store: %w", err))
	}
	return filepath.Join(home, ".local", "share", "halforder"), nil
}
