package wav

import (
	"encoding/binary"
	"math"
)

// decode turns whole frames into samples and returns how many.
func (r *Reader) decode(dst []float32, raw []byte) int {
	n := len(raw) * 8 / r.format.Bits
	dst = dst[:n]
	switch {
	case r.format.Coding == Float && r.format.Bits == 32:
		r.decodeFloat32(dst, raw)
	case r.format.Coding == Float:
		r.decodeFloat64(dst, raw)
	default:
		decodePCM(dst, raw, r.format.Bits)
	}
	return n
}

func decodePCM(dst []float32, raw []byte, bits int) {
	switch bits {
	case 8: // the only unsigned one
		for i := range dst {
			dst[i] = float32(int(raw[i])-128) / (1 << 7)
		}
	case 16:
		decode16(dst, raw)
	case 24:
		for i := range dst {
			b := raw[3*i : 3*i+3]
			v := int32(uint32(b[0])<<8 | uint32(b[1])<<16 | uint32(b[2])<<24)
			dst[i] = float32(v>>8) / (1 << 23)
		}
	case 32:
		for i := range dst {
			dst[i] = float32(int32(binary.LittleEndian.Uint32(raw[4*i:]))) / (1 << 31)
		}
	}
}

// decode16 reads four samples at once: most recordings are of this kind.
func decode16(dst []float32, raw []byte) {
	for ; len(dst) >= 4; dst, raw = dst[4:], raw[8:] {
		four, to := binary.LittleEndian.Uint64(raw), (*[4]float32)(dst)
		to[0] = float32(int16(four)) / (1 << 15)
		to[1] = float32(int16(four>>16)) / (1 << 15)
		to[2] = float32(int16(four>>32)) / (1 << 15)
		to[3] = float32(int16(four>>48)) / (1 << 15)
	}
	for i := range dst {
		dst[i] = float32(int16(binary.LittleEndian.Uint16(raw[2*i:]))) / (1 << 15)
	}
}

func (r *Reader) decodeFloat32(dst []float32, raw []byte) {
	for i := range dst {
		dst[i] = r.finite(float64(math.Float32frombits(binary.LittleEndian.Uint32(raw[4*i:]))))
	}
}

func (r *Reader) decodeFloat64(dst []float32, raw []byte) {
	for i := range dst {
		dst[i] = r.finite(math.Float64frombits(binary.LittleEndian.Uint64(raw[8*i:])))
	}
}

// loudest bounds float samples: far above any real one, far below overflow.
const loudest = 1e9

// finite replaces what is no number, or absurd, by silence and counts it.
func (r *Reader) finite(v float64) float32 {
	if !(math.Abs(v) < loudest) {
		r.damage.NotFinite++
		return 0
	}
	return float32(v)
}
