package take

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// PCM turns samples of ±1 into the stored form.
func PCM(x []float32) []byte {
	out := make([]byte, 0, 2*len(x))
	for _, v := range x {
		v = min(max(v, -1), 1)
		out = binary.LittleEndian.AppendUint16(out, uint16(int16(math.RoundToEven(float64(v)*32767))))
	}
	return out
}

// Samples turns stored sound into samples of ±1.
func Samples(data []byte) []float32 {
	out := make([]float32, len(data)/2)
	for i := range out {
		out[i] = float32(int16(binary.LittleEndian.Uint16(data[2*i:]))) / 32767
	}
	return out
}

// Move is one motion sample: seconds, and m/s² along the phone's axes.
type Move struct{ T, X, Y, Z float64 }

// MoveBytes turns motion into the stored form.
func MoveBytes(moves []Move) []byte {
	out := make([]byte, 0, 20*len(moves))
	le := binary.LittleEndian
	for _, m := range moves {
		out = le.AppendUint64(out, math.Float64bits(m.T))
		for _, v := range [3]float64{m.X, m.Y, m.Z} {
			out = le.AppendUint32(out, math.Float32bits(float32(v)))
		}
	}
	return out
}

// Moves turns stored motion into samples; those that are no numbers are left out.
func Moves(data []byte) []Move {
	var out []Move
	le := binary.LittleEndian
	for ; len(data) >= 20; data = data[20:] {
		f := func(at int) float64 { return float64(math.Float32frombits(le.Uint32(data[at:]))) }
		m := Move{math.Float64frombits(le.Uint64(data)), f(8), f(12), f(16)}
		if s := m.T + m.X + m.Y + m.Z; !math.IsNaN(s) && !math.IsInf(s, 0) {
			out = append(out, m)
		}
	}
	return out
}

// WriteWAV writes a sound take as a WAV file, gaps as silence so that its
// clock stays true. Layout: RIFF/WAVE, PCM, from memory.
func (t *Take) WriteWAV(w io.Writer) error {
	t.mu.Lock()
	frames := t.end
	t.mu.Unlock()
	if 2*frames > math.MaxUint32-64 {
		return fmt.Errorf("take %s: with its gaps it is longer than a WAV file can be", t.ID)
	}
	b := bufio.NewWriterSize(w, 1<<16)
	b.Write(wavHead(uint32(2*frames), uint32(math.Round(t.RateHz))))
	var at uint64
	err := t.Each(func(c Chunk) error {
		for ; at < c.First; at++ {
			b.Write([]byte{0, 0})
		}
		at += uint64(len(c.Data) / 2)
		_, err := b.Write(c.Data)
		return err
	})
	if err != nil {
		return err
	}
	return b.Flush()
}

func wavHead(bytes, rate uint32) []byte {
	le := binary.LittleEndian
	b := append([]byte("RIFF"), 0, 0, 0, 0)
	le.PutUint32(b[4:], 36+bytes)
	b = append(b, "WAVEfmt "...)
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, 1) // PCM
	b = le.AppendUint16(b, 1) // mono
	b = le.AppendUint32(b, rate)
	b = le.AppendUint32(b, 2*rate)
	b = le.AppendUint16(b, 2)
	b = le.AppendUint16(b, 16)
	b = append(b, "data"...)
	return le.AppendUint32(b, bytes)
}

// WriteCSV writes a motion take as a table of t, x, y, z.
func (t *Take) WriteCSV(w io.Writer) error {
	b := bufio.NewWriter(w)
	fmt.Fprintln(b, "t_s,x_ms2,y_ms2,z_ms2")
	err := t.Each(func(c Chunk) error {
		for _, m := range Moves(c.Data) {
			fmt.Fprintf(b, "%.4f,%.4f,%.4f,%.4f\n", m.T, m.X, m.Y, m.Z)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return b.Flush()
}
