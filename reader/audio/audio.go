package audio

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
)

// Reader hands out the samples of one recording, which a library decodes a piece at
// a time, and ends where it is damaged.
type Reader struct {
	kind     string
	channels int
	rate     float64
	next     func() ([]float32, error) // whole frames, io.EOF at the end
	left     []float32
	frames   int64
	done     error
	notes    []string
}

// Channels is how many samples a frame has.
func (r *Reader) Channels() int { return r.channels }

// Rate is the number of frames a second, as declared.
func (r *Reader) Rate() float64 { return r.rate }

// Notes are what was odd, complete at the end.
func (r *Reader) Notes() []string { return r.notes }

// Begins reports whether a file that begins so is of a kind read here.
func Begins(head []byte) bool {
	return bytes.HasPrefix(head, []byte("fLaC")) || bytes.HasPrefix(head, []byte("ID3")) || isMP3(head)
}

// NewReader reads up to the first sample. Errors: *DamagedError, or that of src.
func NewReader(src io.Reader) (*Reader, error) {
	in := bufio.NewReader(src)
	if err := skipTag(in); err != nil {
		return nil, err
	}
	if head, _ := in.Peek(4); string(head) == "fLaC" {
		return newFLAC(in)
	}
	return newMP3(in)
}

// skipTag reads past a tag of title and pictures at the beginning, as MP3 files
// have it (ID3v2.4 §3.1: the size in four bytes of seven bits, without the header
// of ten and the footer of ten).
func skipTag(in *bufio.Reader) error {
	const header, footer = 10, 0x10
	head, err := in.Peek(header)
	if len(head) < header || string(head[:3]) != "ID3" {
		if errors.Is(err, io.EOF) {
			err = nil
		}
		return err
	}
	size := header
	if head[5]&footer != 0 {
		size += header
	}
	size += int(head[6]&0x7F)<<21 | int(head[7]&0x7F)<<14 | int(head[8]&0x7F)<<7 | int(head[9]&0x7F)
	if _, err = in.Discard(size); errors.Is(err, io.EOF) {
		return &DamagedError{"MP3", errors.New("it ends within its tag")}
	}
	return err
}

// DamagedError is a recording of which nothing can be read.
type DamagedError struct {
	Kind string // FLAC or MP3
	What error
}

func (e *DamagedError) Error() string {
	return fmt.Sprintf("damaged %s file: %v; copy it once more, or convert the recording to WAV", e.Kind, e.What)
}

func (e *DamagedError) Unwrap() error { return e.What }

// start decodes the first piece.
func (r *Reader) start() (*Reader, error) {
	r.advance()
	if r.done != nil && len(r.left) == 0 {
		what := r.done
		if errors.Is(what, io.EOF) {
			what = errors.New("it holds no sound")
		}
		return nil, &DamagedError{r.kind, what}
	}
	return r, nil
}

// Read fills dst with whole frames of interleaved samples, ±1 at full scale, and
// returns how many samples; 0, io.EOF at the end. dst must hold a frame.
func (r *Reader) Read(dst []float32) (int, error) {
	room := len(dst) / r.channels * r.channels
	if room == 0 {
		return 0, fmt.Errorf("audio: a buffer of %d samples cannot hold a frame of %d channels", len(dst), r.channels)
	}
	for len(r.left) == 0 && r.done == nil {
		r.advance()
	}
	if len(r.left) == 0 {
		return 0, io.EOF
	}
	n := copy(dst[:room], r.left)
	r.left = r.left[n:]
	return n, nil
}

func (r *Reader) advance() {
	r.left, r.done = r.decoded()
	r.frames += int64(len(r.left) / r.channels)
	if r.done != nil && !errors.Is(r.done, io.EOF) && r.frames > 0 {
		r.notes = append(r.notes, fmt.Sprintf("the recording is damaged or cut short after %.1f s; used what comes before", float64(r.frames)/r.rate))
	}
}

// decoded turns a panic over foreign bytes into damage.
func (r *Reader) decoded() (piece []float32, err error) {
	defer caught(&err)
	return r.next()
}

func caught(err *error) {
	if cause := recover(); cause != nil {
		*err = fmt.Errorf("the decoder failed: %v", cause)
	}
}
