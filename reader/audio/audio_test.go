package audio

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
)

const testRate = 32000

// tone is a sine of 16 bit on the left, its negative on the right.
func tone(n int) [][]int32 {
	left, right := make([]int32, n), make([]int32, n)
	for i := range left {
		left[i] = int32(math.Round(12000 * math.Sin(2*math.Pi*float64(i)/100)))
		right[i] = -left[i]
	}
	return [][]int32{left, right}
}

const flacBlock = 4096

func flacOf(t testing.TB, x [][]int32) []byte {
	t.Helper()
	var out bytes.Buffer
	e, err := flac.NewEncoder(&out, &meta.StreamInfo{BlockSizeMin: 16, BlockSizeMax: flacBlock, SampleRate: testRate, NChannels: 2, BitsPerSample: 16})
	if err != nil {
		t.Fatal(err)
	}
	for from := 0; from < len(x[0]); from += flacBlock {
		to := min(from+flacBlock, len(x[0]))
		f := &frame.Frame{Header: frame.Header{HasFixedBlockSize: true, BlockSize: uint16(to - from), SampleRate: testRate, Channels: frame.ChannelsLR, BitsPerSample: 16}}
		for _, c := range x {
			f.Subframes = append(f.Subframes, &frame.Subframe{SubHeader: frame.SubHeader{Pred: frame.PredVerbatim}, Samples: c[from:to], NSamples: to - from})
		}
		if err := e.WriteFrame(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := e.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// silentMP3 is so many frames of MPEG-1 layer III at 128 kbit/s and 44.1 kHz
// without a single coded line: 144·128000/44100 = 417 bytes a frame, 1152 samples
// (ISO/IEC 11172-3 §2.4.3.1).
func silentMP3(frames int) []byte {
	one := make([]byte, 417)
	copy(one, "\xff\xfb\x90\x00")
	return bytes.Repeat(one, frames)
}

// tag is an ID3v2.3 tag of four bytes.
const tag = "ID3\x03\x00\x00\x00\x00\x00\x04titl"

func readAll(t testing.TB, file []byte) (*Reader, []float32) {
	t.Helper()
	r, err := NewReader(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	var out []float32
	for buf := make([]float32, 999); ; {
		n, err := r.Read(buf)
		out = append(out, buf[:n]...)
		if errors.Is(err, io.EOF) {
			return r, out
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

func TestFLACGivesTheSamplesBack(t *testing.T) {
	x := tone(10000)
	r, got := readAll(t, flacOf(t, x))
	if tagged, _ := readAll(t, append([]byte(tag), flacOf(t, x)...)); tagged.Rate() != testRate {
		t.Errorf("behind a tag it is read at %g Hz", tagged.Rate())
	}
	if r.Channels() != 2 || r.Rate() != testRate || len(got) != 20000 || len(r.Notes()) != 0 {
		t.Fatalf("%d channels at %g Hz, %d samples, notes %v", r.Channels(), r.Rate(), len(got), r.Notes())
	}
	for i := range x[0] {
		for c := range x {
			if want := float32(x[c][i]) / (1 << 15); got[2*i+c] != want {
				t.Fatalf("frame %d channel %d: %g, want %g", i, c, got[2*i+c], want)
			}
		}
	}
}

func TestWhatComesBeforeTheDamageIsUsed(t *testing.T) {
	whole := flacOf(t, tone(5*flacBlock))
	r, got := readAll(t, whole[:len(whole)/2])
	if len(got) != 2*2*flacBlock {
		t.Errorf("%d samples of half a file of five blocks, want those of two", len(got))
	}
	if notes := r.Notes(); len(notes) != 1 || !strings.Contains(notes[0], "0.3 s") {
		t.Errorf("notes %q do not say that it ends after 0.3 s", notes)
	}
}

func TestMP3IsReadAsStereo(t *testing.T) {
	for _, before := range []string{"", tag} {
		r, got := readAll(t, append([]byte(before), silentMP3(10)...))
		if r.Channels() != 2 || r.Rate() != 44100 || len(got) != 10*1152*2 {
			t.Errorf("%d channels at %g Hz, %d samples", r.Channels(), r.Rate(), len(got))
		}
	}
}

func TestDamageIsNamed(t *testing.T) {
	for _, file := range []struct{ kind, bytes string }{
		{"FLAC", "fLaC and nothing more"},
		{"MP3", string(silentMP3(1)[:100])},
		{"MP3", tag[:12]},
		{"MP3", ""},
	} {
		var damaged *DamagedError
		if _, err := NewReader(strings.NewReader(file.bytes)); !errors.As(err, &damaged) || damaged.Kind != file.kind {
			t.Errorf("%q gives %v", file.bytes, err)
		}
	}
}

func TestKindsAreToldByTheirFirstBytes(t *testing.T) {
	for head, want := range map[string]bool{"fLaC": true, tag: true, "\xff\xfb\x90": true, "\xff\xf3\x40": true, "RIFF": false, "OggS": false, "\xff\xff": false, "": false} {
		if Begins([]byte(head)) != want {
			t.Errorf("Begins(%q) is not %v", head, want)
		}
	}
}

func FuzzReader(f *testing.F) {
	f.Add(flacOf(f, tone(300)))
	f.Add(silentMP3(3))
	f.Add([]byte(tag))
	f.Fuzz(func(t *testing.T, file []byte) {
		r, err := NewReader(bytes.NewReader(file))
		if err != nil {
			return
		}
		buf := make([]float32, 256*r.Channels())
		for total := 0; total < 1<<20; {
			n, err := r.Read(buf)
			for _, v := range buf[:n] {
				if v != v || math.IsInf(float64(v), 0) {
					t.Fatalf("sample %g", v)
				}
			}
			if total += n; err != nil {
				return
			}
			if n == 0 || n%r.Channels() != 0 {
				t.Fatalf("%d samples of %d channels without an error", n, r.Channels())
			}
		}
	})
}
