// Command halforder finds why a petrol engine runs rough, which cylinder and
// which part, and proves the repair. "halforder --help" is its manual.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	program := Program{Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr, Now: time.Now}
	code := program.Run(ctx, os.Args[1:])
	stop()
	os.Exit(code)
}
