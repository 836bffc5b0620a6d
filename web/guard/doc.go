// Package guard stands between the network and the bench.
//
// Everything that is served goes through one wrapper, [Guard.Wrap]: it sets the
// security headers, refuses foreign hosts and foreign origins, limits rates and
// sizes, turns a panic into an error page, and says who asks: a [Session] with
// a [Role], found by its cookie, or the bench itself on this machine.
//
// A phone gets its session by pairing: [Sessions.Offer] makes a token that is
// shown as a QR code, works once and expires; [Sessions.Pair] trades it for a
// secret. Only hashes are kept on disk.
package guard
