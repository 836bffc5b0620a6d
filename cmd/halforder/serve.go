package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"path/filepath"
	"time"

	"halforder/reason/fault"
	"halforder/store/sqlite"
	"halforder/web"
)

type serveCmd struct {
	Here     string `default:"localhost:8420" placeholder:"ADDRESS" help:"Where the bench listens for browsers on this machine (default: localhost:8420)."`
	Phones   string `default:":8421" placeholder:"ADDRESS" help:"Where it listens for phones and tablets, by HTTPS (default: :8421)."`
	NoPhones bool   `help:"Serve this machine only."`
	ReadOnly bool   `help:"Let nobody change anything: for a guest."`
	Verbose  bool   `short:"v" help:"Log what goes wrong."`
}

func (c *serveCmd) Help() string {
	return `Open http://localhost:8420 on this machine. Phones and tablets are paired by a
QR code shown there; they come by HTTPS with the workshop's own certificate,
which is made at the first start. Nothing needs the internet.`
}

func (c *serveCmd) Run(r *run) error {
	return r.withStore(func(dir string, store *sqlite.Store, catalogue *fault.Catalogue) (err error) {
		here, phones, err := c.listen()
		if err != nil {
			return badInput(err)
		}
		bench, err := web.New(web.Config{Store: store, Catalogue: catalogue, Dir: filepath.Join(dir, "bench"), Now: r.Now,
			ReadOnly: c.ReadOnly, Log: c.log(r), PhonePort: func() string { return portOf(phones) }})
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, bench.Close()) }()
		fmt.Fprintf(r.Stdout, "the bench is at http://localhost:%s\n", portOf(here))
		if phones != nil {
			fmt.Fprintf(r.Stdout, "phones: pair them there, under “Pair a device” (port %s)\n", portOf(phones))
		}
		return serveBench(r, bench, here, phones)
	})
}

func (c *serveCmd) log(r *run) *slog.Logger {
	level := slog.LevelError
	if c.Verbose {
		level = slog.LevelDebug
	}
	return slog.New(slog.NewTextHandler(r.Stderr, &slog.HandlerOptions{Level: level}))
}

// listen takes both addresses. The one without encryption must be this machine.
func (c *serveCmd) listen() (here, phones net.Listener, err error) {
	host, _, err := net.SplitHostPort(c.Here)
	if err != nil {
		return nil, nil, fmt.Errorf("--here %q: give an address such as localhost:8420", c.Here)
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return nil, nil, fmt.Errorf("--here %q: without encryption the bench serves this machine only: use localhost, and --phones for others", c.Here)
	}
	if here, err = net.Listen("tcp", c.Here); err != nil {
		return nil, nil, fmt.Errorf("the bench cannot listen at %s (is another one running? choose another with --here localhost:8430): %w", c.Here, err)
	}
	if c.NoPhones {
		return here, nil, nil
	}
	if phones, err = net.Listen("tcp", c.Phones); err != nil {
		here.Close()
		return nil, nil, fmt.Errorf("the bench cannot listen at %s (choose another with --phones :8431, or --no-phones): %w", c.Phones, err)
	}
	return here, phones, nil
}

func portOf(l net.Listener) string {
	if l == nil {
		return ""
	}
	_, port, _ := net.SplitHostPort(l.Addr().String())
	return port
}

// serveBench serves until ctx ends, then lets requests under way finish.
func serveBench(ctx context.Context, bench *web.Bench, here, phones net.Listener) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	go bench.Run(ctx)
	server := func() *http.Server {
		return &http.Server{Handler: bench.Handler(), ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute,
			MaxHeaderBytes: 32 << 10, ErrorLog: slog.NewLogLogger(slog.DiscardHandler, slog.LevelDebug),
			BaseContext: func(net.Listener) context.Context { return ctx }}
	}
	ended := make(chan error, 2)
	servers := []*http.Server{server()}
	go func() { ended <- servers[0].Serve(here) }()
	if phones != nil {
		secure := server()
		secure.TLSConfig = bench.TLS()
		servers = append(servers, secure)
		go func() { ended <- secure.ServeTLS(phones, "", "") }()
	}
	var err error
	select {
	case <-ctx.Done():
	case err = <-ended:
	}
	stop()
	patience, cancel := context.WithTimeout(context.Background(), 3*time.Second)
	defer cancel()
	for _, s := range servers {
		if s.Shutdown(patience) != nil {
			s.Close()
		}
	}
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}
