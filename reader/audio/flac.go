package audio

import (
	"fmt"
	"io"

	"github.com/mewkiz/flac"
)

func newFLAC(in io.Reader) (*Reader, error) {
	stream, err := openFLAC(in)
	if err != nil {
		return nil, &DamagedError{"FLAC", err}
	}
	r := &Reader{kind: "FLAC", channels: int(stream.Info.NChannels), rate: float64(stream.Info.SampleRate)}
	full := float32(int64(1) << (stream.Info.BitsPerSample - 1))
	r.next = func() ([]float32, error) {
		f, err := stream.ParseNext()
		if err != nil {
			return nil, err
		}
		if len(f.Subframes) != r.channels {
			return nil, fmt.Errorf("a frame of %d channels among %d", len(f.Subframes), r.channels)
		}
		out := make([]float32, r.channels*int(f.BlockSize))
		for c, s := range f.Subframes {
			for i, v := range s.Samples[:f.BlockSize] {
				out[i*r.channels+c] = float32(v) / full
			}
		}
		return out, nil
	}
	return r.start()
}

func openFLAC(in io.Reader) (stream *flac.Stream, err error) {
	defer caught(&err)
	stream, err = flac.New(in)
	if err == nil && (stream.Info.NChannels == 0 || stream.Info.SampleRate == 0 || stream.Info.BitsPerSample == 0) {
		err = fmt.Errorf("%d channels of %d bits at %d Hz declared", stream.Info.NChannels, stream.Info.BitsPerSample, stream.Info.SampleRate)
	}
	return stream, err
}
