// Package web is the bench: the whole job in a browser on the workshop's own
// network, a phone on the engine and a tablet beside it.
//
//	bench, err := web.New(web.Config{Store: store, Catalogue: catalogue, Dir: dir, Now: time.Now})
//	go bench.Run(ctx)
//	http.Serve(listener, bench.Handler())
//
// Pages are HTML made here; they work without their scripts wherever a browser
// can, and every file they need is in the binary. Package guard stands before
// all of it, package take keeps what phones send, package cert makes the
// workshop's certificates. What a job is and what follows from it is decided in
// package job and below, never here.
package web
