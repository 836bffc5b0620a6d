package wav

import (
	"errors"
	"fmt"
)

// ErrEmpty: the input has no bytes at all.
var ErrEmpty = errors.New("the file is empty (0 bytes): record again, or copy the recording once more")

// NotWaveError: the input is no RIFF/WAVE file.
type NotWaveError struct {
	Looks string // what it looks like instead, "" when nothing known
}

func (e *NotWaveError) Error() string {
	if e.Looks == "" {
		return "not a WAV file, whatever its name says: expected it to begin with RIFF…WAVE; convert the recording to WAV"
	}
	return fmt.Sprintf("not a WAV file but %s, whatever its name says: convert the recording to WAV", e.Looks)
}

// CodecError: a WAVE file in a coding this reader does not know.
type CodecError struct {
	Tag  uint16 // format tag of the header, 0xFFFE resolved to the real one
	Bits int
}

func (e *CodecError) Error() string {
	return fmt.Sprintf("WAV coding 0x%04X with %d bits is not supported: convert to 16 bit PCM (coding 0x0001)", e.Tag, e.Bits)
}

// FormatError: a WAVE header that contradicts itself.
type FormatError struct {
	What string
}

func (e *FormatError) Error() string { return "damaged WAV header: " + e.What }
