// Package audio opens compressed sound recordings, FLAC or MP3, told by their
// first bytes and never by their name. [NewReader] reads up to the first sample,
// [Reader.Read] hands out interleaved samples scaled to ±1, and [Reader.Notes]
// says what was odd once the end is reached.
//
// Sources: RFC 9639 (FLAC) and ISO/IEC 11172-3 (MP3), by their libraries.
package audio
