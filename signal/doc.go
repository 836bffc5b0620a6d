// Package signal holds the arithmetic on sampled series that several
// measurements share: splitting a stream into slow bands, windows, spectra
// and phasors at uneven phase.
//
// A [Bank] takes samples at any rate, in pieces of any size, and gives [Frames]
// at a rate between [FrameRateMin] and twice that: the low band itself, and the
// loudness of each octave above it. A file and a live stream pass through the
// same code and give the same numbers.
//
//	bank, err := signal.NewBank(48000)
//	bank.Write(samples)          // as often as samples come
//	frames := bank.Frames()      // what is ready; bank.Discard(n) forgets it
//
// All amplitudes are in the unit of the samples. Nothing here knows an engine.
package signal
