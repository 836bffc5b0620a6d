// Package take keeps what a phone sends while it is still sending.
//
// A take is one recording under way. Its chunks carry sequence numbers and are
// appended to one file; a chunk is acknowledged twice: as next, when it is in
// the file and survives the death of the server, and as safe, when it is on the
// disk and survives the death of the machine. A phone forgets a chunk when it
// is safe. Chunks that come twice are taken once; a chunk that comes too early
// is refused with the number wanted.
//
//	store, err := take.Open(dir)
//	t, err := store.Begin(take.Head{Key: "…", Sensor: take.Sound, RateHz: 48000})
//	ack, err := t.Append(take.Chunk{Seq: 0, First: 0, Data: pcm})
//
// First is the index of a chunk's first sample on the phone's own clock, so
// that what a locked phone or a full buffer lost shows as a gap, never as a
// jump in the recording.
package take
