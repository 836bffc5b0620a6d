// Package wav reads and writes RIFF/WAVE sound without ever holding a file in
// memory.
//
// [NewReader] reads the header up to the first sample; [Reader.Read] then hands
// out interleaved samples scaled to ±1:
//
//	r, err := wav.NewReader(file)
//	buf := make([]float32, 4096*r.Format().Channels)
//	for {
//		n, err := r.Read(buf) // whole frames
//		...
//	}
//
// It takes 8, 16, 24 and 32 bit PCM and 32 and 64 bit float, plain or as
// WAVE_FORMAT_EXTENSIBLE, any rate and any number of channels. Recorders die
// with flat batteries: a header whose sizes are 0, 0xFFFFFFFF or larger than
// the file is read to the end of the data, and [Reader.Damage] tells what was
// odd. Samples that are no number (NaN, Inf) are read as 0 and counted.
//
// What cannot be read gives one of the typed errors: [ErrEmpty], [NotWaveError],
// [CodecError], [FormatError].
//
// Source of the layout: Multimedia Programming Interface and Data
// Specifications 1.0 (1991) and its 1994 revision, from memory.
package wav
