package main

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "write what the commands print into the README")

// TestReadme runs every "$ halforder" line of the README's console blocks, in
// order and in one folder, and holds the README to what they print.
func TestReadme(t *testing.T) {
	path, err := filepath.Abs("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	got, ran := replay(t, string(text))
	if ran == 0 {
		t.Fatal("the README has no commands to run")
	}
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if got != string(text) {
		t.Errorf("the README does not show what the commands print (go test ./cmd/halforder -run Readme -update):\n%s", firstDifference(string(text), got))
	}
}

// replay returns the README with the output of its commands put in.
func replay(t *testing.T, readme string) (string, int) {
	t.Chdir(t.TempDir())
	t.Setenv("HALFORDER_STORE", filepath.Join(t.TempDir(), "store"))
	var out strings.Builder
	inside, stale, ran := false, false, 0
	for line := range strings.Lines(readme) {
		command, isCommand := strings.CutPrefix(line, "$ halforder ")
		switch {
		case strings.HasPrefix(line, "```"):
			inside, stale = line == "```console\n", false
		case inside && isCommand:
			out.WriteString(line)
			out.WriteString(runLine(t, command, ran))
			stale, ran = true, ran+1
			continue
		case stale:
			continue
		}
		out.WriteString(line)
	}
	return out.String(), ran
}

func runLine(t *testing.T, command string, ran int) string {
	var stdout, stderr bytes.Buffer
	now := func() time.Time { return scriptStart.Add(time.Duration(ran) * 3 * time.Minute) }
	p := Program{Stdin: strings.NewReader(""), Stdout: &stdout, Stderr: &stderr, Now: now}
	if code := p.Run(context.Background(), words(command)); code != exitDone {
		t.Errorf("halforder %s: exit %d\n%s", strings.TrimSpace(command), code, &stderr)
	}
	return stdout.String()
}

// words splits a command line at blanks outside double quotes.
func words(line string) []string {
	var out []string
	for i, part := range strings.Split(strings.TrimSpace(line), `"`) {
		if i%2 == 1 {
			out = append(out, part)
			continue
		}
		out = append(out, strings.Fields(part)...)
	}
	return out
}

func firstDifference(a, b string) string {
	left, right := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range min(len(left), len(right)) {
		if left[i] != right[i] {
			return "README: " + left[i] + "\nnow:    " + right[i]
		}
	}
	return "one is longer than the other"
}
