package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"regexp"
	"runtime/debug"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/alecthomas/kong"
)

// Program is one run of the command line with everything it takes from the
// world, so that tests can run it whole.
type Program struct {
	Stdin          io.Reader
	Stdout, Stderr io.Writer
	Now            func() time.Time
}

// cli is the command line: one command per file.
type cli struct {
	Store string `help:"Folder of the job store." env:"HALFORDER_STORE" type:"path" placeholder:"DIR"`

	Version kong.VersionFlag `help:"Say which version this is."`

	Listen   listenCmd   `cmd:"" help:"Hear in a recording whether a cylinder is missing."`
	Feel     feelCmd     `cmd:"" help:"Feel in the motion of a sensor on the engine whether a cylinder is missing."`
	Job      jobCmd      `cmd:"" help:"Work on a job card, from rough idle to proven repair."`
	Crank    crankCmd    `cmd:"" help:"Weigh every firing by crank speed: which cylinder misses, how often."`
	Cutout   cutoutCmd   `cmd:"" help:"The cut-out test: what each cylinder gives, how to cut safely, practice."`
	Practice practiceCmd `cmd:"" help:"Practise on an engine that does not exist: recordings with a known fault, or a hidden one to find."`
	Engines  enginesCmd  `cmd:"" help:"List the engine layouts known by name, and how to type another."`
	Serve    serveCmd    `cmd:"" help:"Open the bench in the browser, for this machine and the phones of the workshop."`
}

const manual = `Finds why a petrol engine runs rough: whether it misfires, which cylinder, which part, and proves the repair.

Results go to standard output, messages to standard error; --json gives results as JSON.

Exit codes: 0 done; 1 could not be done (disk, store); 2 wrong input, nothing changed; 3 the recording cannot be used.`

// run is what a command needs to do its work.
type run struct {
	context.Context
	Program
	storeDir string
}

// Run parses args, does the work and returns the exit code.
func (p Program) Run(ctx context.Context, args []string) (code int) {
	var c cli
	parser, err := kong.New(&c, kong.Name("halforder"), kong.Description(manual),
		kong.UsageOnError(), kong.Vars{"version": version()}, durations(), kong.Writers(p.Stdout, p.Stderr), kong.Exit(func(n int) { panic(exit(n)) }))
	if err != nil {
		panic(err) // the command structure is ours
	}
	defer func() {
		if n, ok := recover().(exit); ok {
			code = int(n)
		}
	}()
	parsed, err := parser.Parse(negatives(printable(args)))
	if err != nil {
		fmt.Fprintf(p.Stderr, "halforder: %s\n", strings.ReplaceAll(plainly(err), minus, "-"))
		return exitInput
	}
	err = parsed.Run(&run{Context: ctx, Program: p, storeDir: c.Store})
	return p.fail(err)
}

// version is what the build says of itself: the module's version, and what it was
// built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "halforder, version not known"
	}
	words := "halforder " + info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			words += ", from " + s.Value[:min(len(s.Value), 12)]
		}
	}
	return words + ", " + info.GoVersion
}

// printable is args with a blank for what cannot be printed: a control character in the
// name of a car would move the cursor of whoever lists the jobs.
func printable(args []string) []string {
	out := make([]string, len(args))
	for i, a := range args {
		out[i] = strings.Map(func(c rune) rune {
			if unicode.IsControl(c) {
				return ' '
			}
			return c
		}, a)
	}
	return out
}

// minus is the sign itself, which no flag begins with.
const minus = "−"

// negatives keeps a negative number, as the value of a flag or as a result such as
// the trims -3%/2%, from being taken for a flag.
func negatives(args []string) []string {
	var out []string
	for _, a := range args {
		last := len(out) - 1
		_, err := strconv.ParseFloat(a, 64)
		switch {
		case last < 0 || len(a) < 2 || a[0] != '-' || a[1] < '0' || a[1] > '9':
			out = append(out, a)
		case err == nil && strings.HasPrefix(out[last], "--") && !strings.Contains(out[last], "="):
			out[last] += "=" + a
		default:
			out = append(out, minus+a[1:])
		}
	}
	return out
}

// foreignWords are what the parser and the system say of a wrong value or file in a
// programmer's words, and what is said instead.
var foreignWords = []struct {
	theirs *regexp.Regexp
	ours   string
}{
	{regexp.MustCompile(`expected a valid \d+ bit int but got ("[^"]*")`), "give a whole number, not $1"},
	{regexp.MustCompile(`expected a valid \d+ bit uint but got ("[^"]*")`), "give a whole number from 0 up, not $1"},
	{regexp.MustCompile(`expected a float but got ("[^"]*") \(string\)`), "give a number, not $1"},
	{regexp.MustCompile(`(?:stat|open) ([^:]*): no such file or directory`), "there is no file $1 (no such file)"},
	{regexp.MustCompile(`mkdir ([^:]*): no such file or directory`), "no folder can be made at $1: name another"},
	{regexp.MustCompile(`(?:stat|open|mkdir|read) ([^:]*): permission denied`), "$1 may not be used (permission denied): ask whoever owns it, or name another"},
	{regexp.MustCompile(`read ([^:]*): is a directory`), "$1 is a folder: give a file"},
	{regexp.MustCompile(`"([^"]*)" exists but is a directory`), "$1 is a folder: give a file"},
	{regexp.MustCompile(`no space left on device`), "the disk is full: make room, then do it again"},
	{regexp.MustCompile(`read-only file system`), "the disk lets nothing be written (read-only): name another folder"},
	{regexp.MustCompile(`mkdir ([^:]*): not a directory`), "$1 is not a directory: name a folder"},
	{regexp.MustCompile(`\[<(.*?)>\]`), "<$1>"},
	{regexp.MustCompile(`^expected one of (.*)`), "give a command, one of $1 (halforder --help lists them)"},
	{regexp.MustCompile(`^expected "(<.*)"$`), "give $1 as well (--help shows how)"},
	{regexp.MustCompile(`"` + minus + `(\d)`), `"-$1`},
}

// plainly rewords what others said.
func plainly(err error) string {
	text := err.Error()
	for _, w := range foreignWords {
		text = w.theirs.ReplaceAllString(text, w.ours)
	}
	return text
}

// exit carries kong's wish to end (after --help) up to Run.
type exit int

// The documented exit codes.
const (
	exitDone      = 0
	exitFailed    = 1
	exitInput     = 2
	exitRecording = 3
)

// inputError is a fault of what was typed; nothing has been changed.
type inputError struct{ error }

func (e inputError) Unwrap() error { return e.error }

// badInput marks err as a fault of the input; nil stays nil.
func badInput(err error) error {
	if err == nil {
		return nil
	}
	return inputError{err}
}

// recordingError is a recording that cannot be used.
type recordingError struct{ error }

func (e recordingError) Unwrap() error { return e.error }

// fail prints err as one line and gives its exit code.
func (p Program) fail(err error) int {
	if err == nil {
		return exitDone
	}
	fmt.Fprintf(p.Stderr, "halforder: %s\n", plainly(err))
	switch {
	case errors.As(err, new(inputError)):
		return exitInput
	case errors.As(err, new(recordingError)):
		return exitRecording
	}
	return exitFailed
}
