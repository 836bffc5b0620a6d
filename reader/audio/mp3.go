package audio

import (
	"encoding/binary"
	"errors"
	"io"

	"github.com/hajimehoshi/go-mp3"
)

// isMP3 reports whether a file begins with the header of a frame of layer III.
func isMP3(head []byte) bool {
	return len(head) >= 2 && head[0] == 0xFF && head[1]&0xE6 == 0xE2
}

// mp3Channels is what the library makes of every recording.
const mp3Channels = 2

// lossy says what the coding does to a measurement.
const lossy = "an MP3 leaves out what ears do not miss: the same as WAV or FLAC may tell more"

func newMP3(in io.Reader) (*Reader, error) {
	d, err := openMP3(in)
	if err != nil {
		return nil, &DamagedError{"MP3", err}
	}
	r := &Reader{kind: "MP3", channels: mp3Channels, rate: float64(d.SampleRate()), notes: []string{lossy}}
	raw := make([]byte, 1<<14)
	r.next = func() ([]float32, error) {
		n, err := io.ReadFull(d, raw)
		if errors.Is(err, io.ErrUnexpectedEOF) {
			err = io.EOF
		}
		out := make([]float32, n/(2*mp3Channels)*mp3Channels)
		for i := range out {
			out[i] = float32(int16(binary.LittleEndian.Uint16(raw[2*i:]))) / (1 << 15)
		}
		return out, err
	}
	return r.start()
}

func openMP3(in io.Reader) (d *mp3.Decoder, err error) {
	defer caught(&err)
	return mp3.NewDecoder(in)
}
