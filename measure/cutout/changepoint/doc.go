// Package changepoint cuts a record into stretches of constant mean, exactly.
//
// The cost of a stretch is its residual sum of squares in units of each
// channel's noise, summed over the channels, and every break costs a penalty:
//
//	Σ_stretches Σ_channels RSS/σ² + penalty·(number of breaks)
//
// [Breaks] finds the minimum by dynamic programming with pruning (PELT:
// Killick, Fearnhead and Eckley 2012, cited from memory), not by greedy
// splitting. [Path] lists every answer between two penalties (CROPS).
//
// A break is the number of samples before it: break 50 means that sample 50,
// counted from 0, is the first of the new stretch. NaN marks a sample a channel
// does not have.
package changepoint
