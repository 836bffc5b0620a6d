package take

import (
	"bytes"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func head() Head {
	return Head{Key: "phone-key-1", Job: 3, Sensor: Sound, RateHz: 8000, Began: time.Unix(1, 0).UTC()}
}

func begin(t *testing.T, dir string) (*Store, *Take) {
	t.Helper()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	k, err := s.Begin(head())
	if err != nil {
		t.Fatal(err)
	}
	return s, k
}

func pcm(n int, v int16) []byte {
	var b []byte
	for range n {
		b = binary.LittleEndian.AppendUint16(b, uint16(v))
	}
	return b
}

func TestNothingAcknowledgedIsLostWhenTheServerDies(t *testing.T) {
	dir := t.TempDir()
	_, k := begin(t, dir)
	for i := range uint32(5) {
		if _, fresh, err := k.Append(Chunk{i, uint64(i) * 10, pcm(10, int16(i))}); err != nil || !fresh {
			t.Fatal(fresh, err)
		}
	}
	// The server dies without closing anything, half-way through a write.
	file := filepath.Join(dir, k.ID, "chunks")
	f, err := os.OpenFile(file, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	f.Write(Chunk{5, 50, pcm(10, 5)}.appendTo(nil)[:31])
	f.Close()

	s, again := begin(t, dir) // the phone asks with the same key
	if len(s.List()) != 1 || again.Ack().Next != 5 || again.Ack().Samples != 50 {
		t.Fatalf("%d takes, %+v", len(s.List()), again.Ack())
	}
	if _, fresh, err := again.Append(Chunk{4, 40, pcm(10, 4)}); err != nil || fresh {
		t.Errorf("a chunk sent twice: fresh %v, %v", fresh, err)
	}
	if ack, _, err := again.Append(Chunk{5, 50, pcm(10, 5)}); err != nil || ack.Samples != 60 {
		t.Errorf("%+v %v", ack, err)
	}
}

func TestEarlyChunkIsRefusedWithTheOneWanted(t *testing.T) {
	_, k := begin(t, t.TempDir())
	_, _, err := k.Append(Chunk{2, 20, pcm(1, 0)})
	var ahead *AheadError
	if !errors.As(err, &ahead) || ahead.Want != 0 {
		t.Errorf("got %v", err)
	}
}

func TestSafeOnlyAfterSync(t *testing.T) {
	_, k := begin(t, t.TempDir())
	ack, _, _ := k.Append(Chunk{0, 0, pcm(4, 1)})
	if ack.Next != 1 || ack.Safe != 0 {
		t.Errorf("before sync %+v", ack)
	}
	if err := k.Sync(); err != nil || k.Ack().Safe != 1 {
		t.Errorf("after sync %+v %v", k.Ack(), err)
	}
}

func TestGapIsMarkedAndKeepsTheClock(t *testing.T) {
	_, k := begin(t, t.TempDir())
	k.Append(Chunk{0, 0, pcm(8000, 7)})
	k.Append(Chunk{1, 16000, pcm(8000, 9)})
	if gaps := k.Ack().Gaps; len(gaps) != 1 || gaps[0] != (Gap{8000, 8000}) {
		t.Errorf("gaps %v", gaps)
	}
	if k.Seconds() != 3 {
		t.Errorf("%g s, want 3", k.Seconds())
	}
	var b bytes.Buffer
	if err := k.WriteWAV(&b); err != nil || b.Len() != 44+2*24000 {
		t.Fatal(err, b.Len())
	}
	at := func(i int) int16 { return int16(binary.LittleEndian.Uint16(b.Bytes()[44+2*i:])) }
	if at(7999) != 7 || at(8000) != 0 || at(15999) != 0 || at(16000) != 9 {
		t.Errorf("samples around the gap: %d %d %d %d", at(7999), at(8000), at(15999), at(16000))
	}
}

func TestSenselessChunksAreRefused(t *testing.T) {
	_, k := begin(t, t.TempDir())
	k.Append(Chunk{0, 0, pcm(10, 1)})
	for name, c := range map[string]Chunk{"half a sample": {1, 10, []byte{1}}, "empty": {1, 10, nil}, "going back": {1, 5, pcm(1, 1)},
		"too far": {1, 1 << 60, pcm(1, 1)}, "too large": {1, 10, make([]byte, MaxChunk+2)}} {
		if _, _, err := k.Append(c); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func TestPCMKeepsSamples(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		x := rapid.SliceOf(rapid.Float32Range(-1, 1)).Draw(rt, "x")
		for i, v := range Samples(PCM(x)) {
			if d := v - x[i]; d > 1.0/32767 || d < -1.0/32767 {
				rt.Fatalf("sample %d: %g became %g", i, x[i], v)
			}
		}
	})
}

func FuzzRecover(f *testing.F) {
	good := Chunk{0, 0, pcm(3, 1)}.appendTo(nil)
	f.Add(good)
	f.Add(append(good, good[:9]...))
	f.Fuzz(func(t *testing.T, data []byte) {
		dir := t.TempDir()
		_, k := begin(t, dir)
		if err := os.WriteFile(filepath.Join(dir, k.ID, "chunks"), data, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		again, _ := s.Get(k.ID)
		var n uint64
		if err := again.Each(func(c Chunk) error { n += uint64(len(c.Data) / 2); return nil }); err != nil {
			t.Fatal(err)
		}
		if n != again.Ack().Samples {
			t.Fatalf("read %d samples, counted %d", n, again.Ack().Samples)
		}
	})
}
