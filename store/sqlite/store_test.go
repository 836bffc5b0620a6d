package sqlite_test

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"halforder/job"
	"halforder/store/sqlite"
	"halforder/store/storetest"
)

func open(t *testing.T, dir string) *sqlite.Store {
	t.Helper()
	s, err := sqlite.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func TestConformance(t *testing.T) {
	dirs := map[*testing.T]string{}
	storetest.Run(t, func(t *testing.T) job.Store {
		if dirs[t] == "" {
			dirs[t] = t.TempDir()
		}
		return open(t, dirs[t])
	})
}

// Environment of the writer process started by the tests below.
const (
	writerDir   = "HALFORDER_TEST_WRITER_DIR"
	writerCount = "HALFORDER_TEST_WRITER_COUNT"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(writerDir); dir != "" {
		writeAndAcknowledge(dir)
		return
	}
	os.Exit(m.Run())
}

// writeAndAcknowledge adds notes to job 1 and prints each only once the store
// has acknowledged it.
func writeAndAcknowledge(dir string) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, dir)
	if err != nil {
		panic(err)
	}
	count, err := strconv.Atoi(os.Getenv(writerCount))
	if err != nil {
		panic(err)
	}
	book := job.Book{Store: s, Now: time.Now}
	for i := range count {
		text := fmt.Sprintf("%d of process %d", i, os.Getpid())
		if _, err := book.Add(ctx, 1, "", &job.Noted{Text: text}); err != nil {
			panic(err)
		}
		fmt.Println(text)
	}
}

func startWriter(t *testing.T, dir string, count int) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), writerDir+"="+dir, writerCount+"="+strconv.Itoa(count))
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd, bufio.NewScanner(out)
}

func TestKilledAtAnyMomentLosesNothingAcknowledged(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	dir := t.TempDir()
	openJob(t, open(t, dir))
	acknowledged := map[string]bool{}
	for range 5 {
		cmd, lines := startWriter(t, dir, 100_000)
		wait := time.Duration(50+random.IntN(400)) * time.Millisecond
		time.AfterFunc(wait, func() { cmd.Process.Kill() })
		for lines.Scan() {
			acknowledged[lines.Text()] = true
		}
		if err := cmd.Wait(); err == nil {
			t.Fatal("the writer ended by itself: nothing was tested")
		}
	}
	if len(acknowledged) < 5 {
		t.Fatalf("only %d events before the kills: nothing was tested", len(acknowledged))
	}
	for _, text := range noteTexts(t, dir) {
		delete(acknowledged, text)
	}
	if len(acknowledged) > 0 {
		t.Errorf("%d acknowledged events are lost: %v", len(acknowledged), acknowledged)
	}
}

func TestTwoProcessesOnOneStore(t *testing.T) {
	dir := t.TempDir()
	openJob(t, open(t, dir))
	const each = 40
	first, _ := startWriter(t, dir, each)
	second, _ := startWriter(t, dir, each)
	for _, cmd := range []*exec.Cmd{first, second} {
		if err := cmd.Wait(); err != nil {
			t.Fatal(err)
		}
	}
	if got := len(noteTexts(t, dir)); got != 2*each {
		t.Errorf("%d notes, want %d", got, 2*each)
	}
}

func openJob(t *testing.T, s job.Store) {
	t.Helper()
	book := job.Book{Store: s, Now: time.Now}
	if _, err := book.Open(t.Context(), "", someCar(t)); err != nil {
		t.Fatal(err)
	}
}

// noteTexts opens the store anew, folds job 1 and lists its notes.
func noteTexts(t *testing.T, dir string) []string {
	t.Helper()
	card, err := job.Book{Store: open(t, dir)}.Card(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, n := range card.Notes {
		out = append(out, n.What.Text)
	}
	return out
}

// rewrite changes the database file behind the store's back.
func rewrite(t *testing.T, dir, statement string) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, "jobs.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(statement); err != nil {
		t.Fatal(err)
	}
}

func TestRefusesWhatIsNotItsOwn(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(t *testing.T, dir string)
		want  error
	}{
		"newer version": {func(t *testing.T, dir string) {
			open(t, dir).Close()
			rewrite(t, dir, "PRAGMA user_version=999")
		}, job.ErrNewerStore},
		"somebody else's database": {func(t *testing.T, dir string) {
			rewrite(t, dir, "CREATE TABLE recipes (cake TEXT)")
		}, job.ErrNotAStore},
		"a text file": {func(t *testing.T, dir string) {
			text := strings.Repeat("this is a letter, not a database\n", 100)
			if err := os.WriteFile(filepath.Join(dir, "jobs.db"), []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}, job.ErrNotAStore},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			c.spoil(t, dir)
			before, _ := os.ReadFile(filepath.Join(dir, "jobs.db"))
			if s, err := sqlite.Open(t.Context(), dir); !errors.Is(err, c.want) {
				t.Errorf("opened %v (%v), want %v", s, err, c.want)
			}
			if after, _ := os.ReadFile(filepath.Join(dir, "jobs.db")); string(after) != string(before) {
				t.Error("the file was changed")
			}
		})
	}
}

func TestEventsCannotBeChanged(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	openJob(t, s)
	s.Close()
	for _, statement := range []string{"UPDATE event SET event = '{}'", "DELETE FROM event"} {
		db, err := sql.Open("sqlite", filepath.Join(dir, "jobs.db"))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := db.Exec(statement); err == nil {
			t.Errorf("%q went through", statement)
		}
		db.Close()
	}
}

func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	const size = 1 << 20
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%d", size)); err != nil {
		t.Skipf("no small disk to fill without the right to mount one: %v", err)
	}
	t.Cleanup(func() { syscall.Unmount(dir, syscall.MNT_DETACH) })
	s := open(t, dir)
	openJob(t, s)
	if _, _, err := s.SaveRecording(t.Context(), strings.NewReader(strings.Repeat("x", 2*size))); !errors.Is(err, job.ErrDiskFull) {
		t.Errorf("a recording larger than the disk: %v, want ErrDiskFull", err)
	}
	book := job.Book{Store: s, Now: time.Now}
	kept := 0
	var err error
	for err == nil && kept < 1000 {
		if _, err = book.Add(t.Context(), 1, "", &job.Noted{Text: strings.Repeat("x", 20_000)}); err == nil {
			kept++
		}
	}
	if !errors.Is(err, job.ErrDiskFull) {
		t.Fatalf("after %d notes: %v, want ErrDiskFull", kept, err)
	}
	if got := len(noteTexts(t, dir)); got != kept {
		t.Errorf("%d notes are there, %d were acknowledged", got, kept)
	}
}
