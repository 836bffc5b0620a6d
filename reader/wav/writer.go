package wav

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// Writer writes one WAVE stream. Call Close to complete it.
type Writer struct {
	dst    io.Writer
	out    *bufio.Writer
	format Format
	bytes  int64
}

// NewWriter writes the header for the format: PCM of 8, 16, 24 or 32 bits, or
// float of 32 or 64. When dst is an io.WriteSeeker, Close fills in the sizes;
// otherwise they stay open-ended (0xFFFFFFFF), which Reader understands.
func NewWriter(dst io.Writer, f Format) (*Writer, error) {
	if err := f.check(0); err != nil {
		return nil, err
	}
	w := &Writer{dst: dst, out: bufio.NewWriter(dst), format: f}
	_, err := w.out.Write(header(f, math.MaxUint32))
	return w, err
}

const headerBytes = 44

func header(f Format, dataBytes uint32) []byte {
	b := make([]byte, 0, headerBytes)
	riff := uint32(math.MaxUint32)
	if dataBytes < math.MaxUint32-headerBytes {
		riff = dataBytes + dataBytes%2 + headerBytes - 8
	}
	le := binary.LittleEndian
	b = append(b, "RIFF"...)
	b = append(le.AppendUint32(b, riff), "WAVEfmt "...)
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, uint16(f.Coding))
	b = le.AppendUint16(b, uint16(f.Channels))
	b = le.AppendUint32(b, uint32(math.Round(f.Rate)))
	b = le.AppendUint32(b, uint32(math.Round(f.Rate))*uint32(f.FrameBytes()))
	b = le.AppendUint16(b, uint16(f.FrameBytes()))
	b = le.AppendUint16(b, uint16(f.Bits))
	return le.AppendUint32(append(b, "data"...), dataBytes)
}

// Write appends interleaved samples, ±1 at full scale. PCM beyond full scale is
// clipped, NaN becomes 0. len(samples) must be whole frames.
func (w *Writer) Write(samples []float32) error {
	if len(samples)%w.format.Channels != 0 {
		return fmt.Errorf("wav: %d samples are not whole frames of %d channels", len(samples), w.format.Channels)
	}
	var b [8]byte
	for _, v := range samples {
		size := w.encode(&b, float64(v))
		if _, err := w.out.Write(b[:size]); err != nil {
			return err
		}
	}
	w.bytes += int64(len(samples) * w.format.Bits / 8)
	return nil
}

func (w *Writer) encode(b *[8]byte, v float64) int {
	if math.IsNaN(v) {
		v = 0
	}
	switch {
	case w.format.Coding == Float && w.format.Bits == 32:
		binary.LittleEndian.PutUint32(b[:], math.Float32bits(float32(v)))
	case w.format.Coding == Float:
		binary.LittleEndian.PutUint64(b[:], math.Float64bits(v))
	case w.format.Bits == 8:
		b[0] = byte(scaled(v, 8) + 128)
	default:
		binary.LittleEndian.PutUint64(b[:], uint64(scaled(v, w.format.Bits)))
	}
	return w.format.Bits / 8
}

func scaled(v float64, bits int) int64 {
	full := float64(int64(1) << (bits - 1))
	return int64(min(max(math.Round(v*full), -full), full-1))
}

// Close completes the stream; it does not close dst.
func (w *Writer) Close() error {
	if w.bytes%2 == 1 {
		if err := w.out.WriteByte(0); err != nil {
			return err
		}
	}
	if err := w.out.Flush(); err != nil {
		return err
	}
	seeker, ok := w.dst.(io.WriteSeeker)
	if !ok || w.bytes >= math.MaxUint32-headerBytes {
		return nil
	}
	if _, err := seeker.Seek(0, io.SeekStart); err != nil {
		return err
	}
	if _, err := seeker.Write(header(w.format, uint32(w.bytes))); err != nil {
		return err
	}
	_, err := seeker.Seek(0, io.SeekEnd)
	return err
}
