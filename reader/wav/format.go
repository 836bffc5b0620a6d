package wav

import (
	"encoding/binary"
	"fmt"
)

// Coding is how one sample is stored.
type Coding uint16

// The codings this package knows, by their format tag.
const (
	PCM   Coding = 1
	Float Coding = 3
)

const (
	tagExtensible = 0xFFFE
	maxChannels   = 256
)

// Format is what the header declares.
type Format struct {
	Rate     float64 // samples per second and channel, as declared
	Channels int
	Bits     int // per stored sample
	Coding   Coding
}

// FrameBytes is the size of one sample of all channels.
func (f Format) FrameBytes() int { return f.Channels * f.Bits / 8 }

func parseFormat(b []byte) (Format, error) {
	if len(b) < 16 {
		return Format{}, &FormatError{fmt.Sprintf("the fmt chunk has %d bytes, expected 16 or more", len(b))}
	}
	tag := binary.LittleEndian.Uint16(b)
	f := Format{
		Channels: int(binary.LittleEndian.Uint16(b[2:])),
		Rate:     float64(binary.LittleEndian.Uint32(b[4:])),
		Bits:     int(binary.LittleEndian.Uint16(b[14:])),
	}
	if tag == tagExtensible && len(b) >= 26 {
		tag = binary.LittleEndian.Uint16(b[24:]) // first two bytes of the sub-format GUID
	}
	f.Coding = Coding(tag)
	return f, f.check(int(binary.LittleEndian.Uint16(b[12:])))
}

func (f Format) check(block int) error {
	switch {
	case !f.supported():
		return &CodecError{uint16(f.Coding), f.Bits}
	case f.Channels < 1 || f.Channels > maxChannels:
		return &FormatError{fmt.Sprintf("%d channels, expected 1 to %d", f.Channels, maxChannels)}
	case f.Rate == 0:
		return &FormatError{"sample rate 0"}
	case block != 0 && block != f.FrameBytes():
		return &FormatError{fmt.Sprintf("%d bytes a frame declared, %d channels of %d bits need %d", block, f.Channels, f.Bits, f.FrameBytes())}
	}
	return nil
}

func (f Format) supported() bool {
	switch f.Coding {
	case PCM:
		return f.Bits == 8 || f.Bits == 16 || f.Bits == 24 || f.Bits == 32
	case Float:
		return f.Bits == 32 || f.Bits == 64
	}
	return false
}
