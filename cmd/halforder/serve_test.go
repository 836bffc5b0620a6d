package main

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"
)

// TestServeOpensTheBench starts the command as a person does and ends it as
// Ctrl-C does.
func TestServeOpensTheBench(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	read, write := io.Pipe()
	var stderr bytes.Buffer
	program := Program{Stdin: strings.NewReader(""), Stdout: write, Stderr: &stderr, Now: time.Now}
	code := make(chan int, 1)
	go func() {
		code <- program.Run(ctx, []string{"--store", t.TempDir(), "serve", "--here", "localhost:0", "--phones", "localhost:0"})
		write.Close()
	}()
	lines := bufio.NewScanner(read)
	if !lines.Scan() {
		t.Fatalf("nothing was said; %s", stderr.String())
	}
	url := lines.Text()[strings.Index(lines.Text(), "http"):]
	go func() {
		for lines.Scan() {
		}
	}()
	answer, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	body, _ := io.ReadAll(answer.Body)
	answer.Body.Close()
	if answer.StatusCode != http.StatusOK || !strings.Contains(string(body), "New job") {
		t.Errorf("%s: %s\n%s", url, answer.Status, body)
	}
	stop()
	select {
	case got := <-code:
		if got != exitDone {
			t.Errorf("exit code %d; %s", got, stderr.String())
		}
	case <-time.After(10 * time.Second):
		t.Error("the bench does not stop")
	}
}

func TestServeWithoutEncryptionIsForThisMachineOnly(t *testing.T) {
	var stdout, stderr bytes.Buffer
	program := Program{Stdin: strings.NewReader(""), Stdout: &stdout, Stderr: &stderr, Now: time.Now}
	code := program.Run(context.Background(), []string{"--store", t.TempDir(), "serve", "--here", "0.0.0.0:0"})
	if code != exitInput || !strings.Contains(stderr.String(), "this machine only") {
		t.Errorf("exit code %d: %s", code, stderr.String())
	}
}
