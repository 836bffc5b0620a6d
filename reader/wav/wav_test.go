package wav

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func encode(t testing.TB, f Format, samples []float32) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := NewWriter(&b, f)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.Write(samples), w.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func decode(t testing.TB, b []byte) ([]float32, *Reader) {
	t.Helper()
	r, err := NewReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	var out []float32
	for buffer := make([]float32, 7*r.Format().Channels); ; {
		n, err := r.Read(buffer)
		out = append(out, buffer[:n]...)
		if errors.Is(err, io.EOF) {
			return out, r
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// What is written is read back within one step of the coding.
func TestEveryCodingReadsBack(t *testing.T) {
	samples := []float32{0, 0.5, -0.5, 0.999, -1, 0.25, -0.125, 0.0625, 0.75, -0.75, 0.1, -0.1}
	for _, f := range []Format{
		{8000, 1, 8, PCM}, {44100, 2, 16, PCM}, {48000, 3, 24, PCM}, {96000, 1, 32, PCM}, {44100, 2, 32, Float}, {192000, 1, 64, Float},
	} {
		got, r := decode(t, encode(t, f, samples))
		if r.Format() != f {
			t.Errorf("format %+v, want %+v", r.Format(), f)
		}
		step := 1 / math.Exp2(float64(min(f.Bits, 24)-1))
		for i, v := range samples {
			if math.Abs(float64(got[i]-v)) > step {
				t.Errorf("%+v: sample %d is %g, want %g", f, i, got[i], v)
			}
		}
	}
}

// Bytes by hand, after the published layout: little endian, 16 bit, full scale
// 32768.
func TestKnownBytes(t *testing.T) {
	b := []byte("RIFF\x28\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x40\x1f\x00\x00\x80\x3e\x00\x00\x02\x00\x10\x00data\x04\x00\x00\x00\x00\x40\x00\x80")
	got, r := decode(t, b)
	if len(got) != 2 || got[0] != 0.5 || got[1] != -1 {
		t.Errorf("got %v, want [0.5 -1]", got)
	}
	if r.Format().Rate != 8000 || r.Frames() != 2 {
		t.Errorf("rate %g, %d frames", r.Format().Rate, r.Frames())
	}
}

func TestOddChunksAndExtensible(t *testing.T) {
	plain := encode(t, Format{8000, 1, 16, PCM}, []float32{0.5, -0.5})
	extensible := append([]byte(nil), plain[:12]...)
	extensible = append(extensible, "LIST\x03\x00\x00\x00abc\x00"...) // odd size, padded
	extensible = append(extensible, "fmt \x28\x00\x00\x00"...)
	extensible = append(extensible, plain[20:36]...)
	binary.LittleEndian.PutUint16(extensible[len(extensible)-16:], 0xFFFE)
	extensible = append(extensible, "\x16\x00\x10\x00\x04\x00\x00\x00\x01\x00\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"...)
	extensible = append(extensible, plain[36:]...)
	if got, _ := decode(t, extensible); len(got) != 2 || got[0] != 0.5 || got[1] != -0.5 {
		t.Errorf("got %v", got)
	}
}

func TestDamagedSizes(t *testing.T) {
	good := encode(t, Format{8000, 2, 16, PCM}, make([]float32, 20))
	for _, size := range []uint32{0, 0xFFFFFFFF, 0xFFFFFFF0} {
		b := append([]byte(nil), good...)
		binary.LittleEndian.PutUint32(b[40:], size)
		if got, r := decode(t, b); len(got) != 20 || !r.Damage().BadSize {
			t.Errorf("size %d: %d samples, damage %+v", size, len(got), r.Damage())
		}
	}
	binary.LittleEndian.PutUint32(good[40:], 40)
	if got, r := decode(t, good[:len(good)-7]); len(got) != 16 || !r.Damage().Truncated || r.Damage().LooseBytes != 1 {
		t.Errorf("cut short: %d samples, damage %+v", len(got), r.Damage())
	}
}

func TestNotFiniteIsSilentAndCounted(t *testing.T) {
	b := encode(t, Format{8000, 1, 32, Float}, make([]float32, 4))
	for i, bits := range []uint32{math.Float32bits(float32(math.Inf(1))), 0x7fc00000} {
		binary.LittleEndian.PutUint32(b[44+4*i:], bits)
	}
	got, r := decode(t, b)
	if r.Damage().NotFinite != 2 || len(r.Damage().Notes()) == 0 {
		t.Errorf("damage %+v", r.Damage())
	}
	for _, v := range got {
		if v != 0 {
			t.Errorf("got %v", got)
		}
	}
}

func TestTypedErrors(t *testing.T) {
	good := encode(t, Format{8000, 1, 16, PCM}, make([]float32, 4))
	with := func(at int, v uint16) string {
		b := append([]byte(nil), good...)
		binary.LittleEndian.PutUint16(b[at:], v)
		return string(b)
	}
	var notWave *NotWaveError
	var codec *CodecError
	var format *FormatError
	for _, c := range []struct {
		name, in string
		want     any
		says     string
	}{
		{"empty", "", nil, "empty"},
		{"text", "time,level\n0,1\n", &notWave, "text"},
		{"flac", "fLaC\x00\x00\x00\x22aaaaaaaa", &notWave, "FLAC"},
		{"coding 2", with(20, 2), &codec, "0x0002"},
		{"12 bits", with(34, 12), &codec, "12 bits"},
		{"no channels", with(22, 0), &format, "channels"},
		{"rate 0", with(24, 0), &format, "rate 0"},
		{"header only", string(good[:36]), &format, "before any sound"},
		{"half a header", string(good[:20]), &format, "fmt chunk"},
	} {
		_, err := NewReader(strings.NewReader(c.in))
		switch {
		case err == nil:
			t.Errorf("%s: accepted", c.name)
		case c.want == nil && !errors.Is(err, ErrEmpty), c.want != nil && !errors.As(err, c.want):
			t.Errorf("%s: %T %v", c.name, err, err)
		case !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "\n"):
			t.Errorf("%s: %q does not say %q in one line", c.name, err, c.says)
		}
	}
}

func TestWriterFillsInSizes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	w, err := NewWriter(f, Format{8000, 1, 8, PCM})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.Write([]float32{0, 0.5, -0.5}), w.Close(), f.Close()); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if size := binary.LittleEndian.Uint32(b[40:]); size != 3 || len(b) != 48 || int(binary.LittleEndian.Uint32(b[4:])) != len(b)-8 {
		t.Errorf("data size %d, file %d bytes, RIFF size %d", size, len(b), binary.LittleEndian.Uint32(b[4:]))
	}
}

func FuzzReader(f *testing.F) {
	f.Add(encode(f, Format{8000, 1, 16, PCM}, []float32{0.1, 0.2}))
	f.Add(encode(f, Format{44100, 2, 64, Float}, []float32{0.1, 0.2}))
	f.Add([]byte("RIFF\x00\x00\x00\x00WAVEdata\x00\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := NewReader(bytes.NewReader(b))
		if err != nil {
			return
		}
		buffer := make([]float32, 64*r.Format().Channels)
		total := 0
		for {
			n, err := r.Read(buffer)
			total += n
			for _, v := range buffer[:n] {
				if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
					t.Fatalf("a sample is %g", v)
				}
			}
			if err != nil {
				break
			}
		}
		if total > len(b) {
			t.Fatalf("%d samples from %d bytes", total, len(b))
		}
	})
}

func BenchmarkRead16Bit(b *testing.B) {
	const seconds, rate = 10, 48000
	data := encode(b, Format{rate, 1, 16, PCM}, make([]float32, seconds*rate))
	buffer := make([]float32, 1<<15)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		r, err := NewReader(bytes.NewReader(data))
		if err != nil {
			b.Fatal(err)
		}
		for err == nil {
			_, err = r.Read(buffer)
		}
	}
}
