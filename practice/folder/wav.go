package folder

import (
	"encoding/binary"
	"math"

	"halforder/practice"
)

// wav is the trace as a mono 16-bit PCM file (RIFF/WAVE, an open format); the
// largest sample stands for fullScale.
func wav(t practice.Trace, fullScale float64) []byte {
	size := 2 * len(t.X)
	b := make([]byte, 0, 44+size)
	le := binary.LittleEndian
	rate := uint32(math.Round(t.Hz))
	b = append(b, "RIFF"...)
	b = le.AppendUint32(b, uint32(36+size))
	b = append(b, "WAVEfmt "...)
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, 1) // PCM
	b = le.AppendUint16(b, 1) // mono
	b = le.AppendUint32(b, rate)
	b = le.AppendUint32(b, 2*rate)
	b = le.AppendUint16(b, 2)
	b = le.AppendUint16(b, 16)
	b = append(b, "data"...)
	b = le.AppendUint32(b, uint32(size))
	for _, x := range t.X {
		v := math.Round(float64(x) / fullScale * 32768)
		b = le.AppendUint16(b, uint16(int16(max(-32768, min(32767, v)))))
	}
	return b
}

// trim rounds x to a unit that divides 1.
func trim(x, unit float64) float64 {
	k := math.Round(1 / unit)
	return math.Round(x*k) / k
}
