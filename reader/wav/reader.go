package wav

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"
)

// Reader hands out the samples of one WAVE stream.
type Reader struct {
	src    io.Reader
	format Format
	left   int64 // data bytes still declared, unknownSize when open-ended
	total  int64 // data bytes declared, unknownSize when open-ended
	frames int64
	raw    []byte
	part   int // bytes of an unfinished frame at the start of raw
	damage Damage
	done   error
}

const unknownSize = -1

// Damage lists what was odd about the stream so far; complete once Read has
// returned io.EOF.
type Damage struct {
	BadSize     bool  // the header's sizes were 0, 0xFFFFFFFF or not whole frames
	Truncated   bool  // fewer data bytes than declared
	NotFinite   int64 // samples that were NaN or Inf, read as 0
	LooseBytes  int   // bytes of an unfinished last frame, dropped
	ReadFailure error // the source failed midway; what came before is good
}

// Notes says each damage in one sentence for a person.
func (d Damage) Notes() []string {
	var out []string
	if d.BadSize {
		out = append(out, "the WAV header states no usable length; read to the end of the data")
	}
	if d.Truncated {
		out = append(out, "the recording is cut short: less data than its header promises; used what is there")
	}
	if d.NotFinite > 0 {
		out = append(out, fmt.Sprintf("%d samples are no numbers (NaN or infinite); read as silence", d.NotFinite))
	}
	return out
}

// NewReader reads up to the first sample. Errors: ErrEmpty, *NotWaveError,
// *CodecError, *FormatError, or the error of src.
func NewReader(src io.Reader) (*Reader, error) {
	r := &Reader{src: src}
	if err := r.readMagic(); err != nil {
		return nil, err
	}
	return r, r.seekData()
}

// Format is what the header declares.
func (r *Reader) Format() Format { return r.format }

// Damage is what was odd so far.
func (r *Reader) Damage() Damage { return r.damage }

// Frames is the number of frames declared, or −1 when the header does not say.
func (r *Reader) Frames() int64 {
	if r.total == unknownSize {
		return -1
	}
	return r.total / int64(r.format.FrameBytes())
}

func (r *Reader) readMagic() error {
	var head [12]byte
	n, err := io.ReadFull(r.src, head[:])
	switch {
	case errors.Is(err, io.EOF) && n == 0:
		return ErrEmpty
	case err != nil && !errors.Is(err, io.ErrUnexpectedEOF):
		return err
	case n < len(head) || string(head[:4]) != "RIFF" && string(head[:4]) != "RF64" || string(head[8:]) != "WAVE":
		return &NotWaveError{Looks: guess(head[:n])}
	}
	return nil
}

func guess(b []byte) string {
	for _, known := range []struct{ magic, name string }{
		{"fLaC", "a FLAC file"}, {"OggS", "an Ogg file"}, {"ID3", "an MP3 file"}, {"\xff\xfb", "an MP3 file"},
		{"RIFX", "a big-endian RIFF file"}, {"PK", "a zip archive"}, {"\x1f\x8b", "a gzip archive"},
	} {
		if bytes.HasPrefix(b, []byte(known.magic)) {
			return known.name
		}
	}
	switch {
	case len(b) >= 8 && string(b[4:8]) == "ftyp":
		return "an MP4/M4A file"
	case utf8.Valid(b) && !bytes.ContainsFunc(b, func(c rune) bool { return c < 9 }):
		return "text"
	}
	return ""
}

// seekData walks the chunks to the start of the samples.
func (r *Reader) seekData() error {
	haveFormat := false
	for {
		var head [8]byte
		if _, err := io.ReadFull(r.src, head[:]); err != nil {
			return missingChunk(err, haveFormat)
		}
		id, size := string(head[:4]), int64(binary.LittleEndian.Uint32(head[4:]))
		switch {
		case id == "data" && !haveFormat:
			return &FormatError{"the data comes before the fmt chunk"}
		case id == "data":
			r.setDataSize(size)
			return nil
		case id == "fmt ":
			if err := r.readFormat(size); err != nil {
				return err
			}
			haveFormat = true
		default:
			if _, err := io.CopyN(io.Discard, r.src, size+size%2); err != nil {
				return missingChunk(err, haveFormat)
			}
		}
	}
}

func missingChunk(err error, haveFormat bool) error {
	switch {
	case !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF):
		return err
	case haveFormat:
		return &FormatError{"the file ends before any sound data"}
	}
	return &FormatError{"the file ends before the fmt chunk"}
}

func (r *Reader) readFormat(size int64) error {
	const enough = 40 // the extensible form; the rest is of no use here
	b := make([]byte, min(size, enough))
	if _, err := io.ReadFull(r.src, b); err != nil {
		return missingChunk(err, false)
	}
	format, err := parseFormat(b)
	if err != nil {
		return err
	}
	r.format = format
	if _, err := io.CopyN(io.Discard, r.src, size+size%2-int64(len(b))); err != nil {
		return missingChunk(err, true)
	}
	return nil
}

func (r *Reader) setDataSize(size int64) {
	switch {
	case size == 0 || size >= 0xFFFFFF00: // recorders that could not seek back to fill it in
		r.left, r.damage.BadSize = unknownSize, true
	default:
		r.left = size
		r.damage.BadSize = size%int64(r.format.FrameBytes()) != 0
	}
	r.total = r.left
}

// Read fills dst with interleaved samples, ±1 at full scale, and returns how
// many: always whole frames. At the end it returns 0, io.EOF. len(dst) must
// hold at least one frame.
func (r *Reader) Read(dst []float32) (int, error) {
	frame := r.format.FrameBytes()
	room := len(dst) / r.format.Channels * frame
	if room == 0 {
		return 0, fmt.Errorf("wav: a buffer of %d samples cannot hold a frame of %d channels", len(dst), r.format.Channels)
	}
	if cap(r.raw) < room {
		r.raw = append(make([]byte, 0, room), r.raw[:r.part]...)
	}
	for r.done == nil {
		got := r.fill(r.raw[:room])
		if whole := got / frame * frame; whole > 0 {
			n := r.decode(dst, r.raw[:whole])
			r.part = copy(r.raw[:cap(r.raw)], r.raw[whole:got])
			r.frames += int64(whole / frame)
			return n, nil
		}
		r.part = got
	}
	return 0, r.done
}

// fill reads into raw behind the unfinished frame and returns the bytes there.
func (r *Reader) fill(raw []byte) int {
	want := raw[r.part:]
	if r.left != unknownSize && int64(len(want)) > r.left {
		want = want[:r.left]
	}
	n, err := io.ReadFull(r.src, want)
	if r.left != unknownSize {
		r.left -= int64(n)
	}
	if err != nil || r.left == 0 {
		r.finish(r.part+n, err)
	}
	return r.part + n
}

func (r *Reader) finish(have int, err error) {
	r.done = io.EOF
	r.damage.LooseBytes = have % r.format.FrameBytes()
	r.damage.Truncated = r.left > 0
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		r.damage.ReadFailure, r.done = err, err
	}
}

// ReadAll gives all samples of a file at once, interleaved: for short
// recordings. Errors as for NewReader and Read.
func ReadAll(src io.Reader) ([]float32, Format, error) {
	r, err := NewReader(src)
	if err != nil {
		return nil, Format{}, err
	}
	var out []float32
	for buffer := make([]float32, 1<<16/r.format.Channels*r.format.Channels); ; {
		n, err := r.Read(buffer)
		out = append(out, buffer[:n]...)
		if errors.Is(err, io.EOF) {
			return out, r.format, nil
		}
		if err != nil {
			return nil, r.format, err
		}
	}
}
