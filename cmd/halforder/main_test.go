package main

import (
	"context"
	"database/sql"
	"os"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// scriptStart is the moment scripts begin; the clock moves a minute a command,
// kept in the script's folder because each command is a process of its own.
var scriptStart = time.Date(2026, 3, 9, 8, 30, 0, 0, time.UTC)

func TestMain(m *testing.M) {
	time.Local = time.UTC // the README shows times
	testscript.Main(m, map[string]func(){"halforder": func() {
		p := Program{Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr, Now: scriptClock}
		os.Exit(p.Run(context.Background(), os.Args[1:]))
	}})
}

func scriptClock() time.Time {
	const ticks = "ticks"
	past, _ := os.ReadFile(ticks)
	now := append(past, '.')
	if err := os.WriteFile(ticks, now, 0o644); err != nil {
		return scriptStart // a script with a full or read-only folder
	}
	return scriptStart.Add(time.Duration(len(now)) * time.Minute)
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:  "testdata/script",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"sql": sqlCommand},
		Setup: func(e *testscript.Env) error {
			e.Setenv("HALFORDER_STORE", e.WorkDir+"/store")
			return nil
		},
	})
}

// sqlCommand ("sql FILE STATEMENT") changes a database behind the program's back.
func sqlCommand(ts *testscript.TestScript, _ bool, args []string) {
	db, err := sql.Open("sqlite", ts.MkAbs(args[0]))
	ts.Check(err)
	defer db.Close()
	_, err = db.Exec(args[1])
	ts.Check(err)
}
