package take

import (
	"bufio"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
)

// MaxChunk is the largest payload in bytes: 10 s of sound at 48 kHz.
const MaxChunk = 1 << 20

// Chunk is a piece of a take.
type Chunk struct {
	Seq   uint32 // from 0
	First uint64 // index of its first sample
	Data  []byte // whole samples, see Sensor
}

const (
	chunkMagic = 0x31634f48 // "HOc1"
	headBytes  = 28
)

var errTorn = errors.New("torn chunk")

// appendTo adds the stored form: magic, seq, first, length, sum, data.
func (c Chunk) appendTo(b []byte) []byte {
	le := binary.LittleEndian
	b = le.AppendUint32(b, chunkMagic)
	b = le.AppendUint32(b, c.Seq)
	b = le.AppendUint64(b, c.First)
	b = le.AppendUint32(b, uint32(len(c.Data)))
	b = le.AppendUint64(b, uint64(c.sum()))
	return append(b, c.Data...)
}

func (c Chunk) sum() uint32 {
	var head [16]byte
	binary.LittleEndian.PutUint32(head[0:], c.Seq)
	binary.LittleEndian.PutUint64(head[4:], c.First)
	return crc32.Update(crc32.ChecksumIEEE(head[:]), crc32.IEEETable, c.Data)
}

// readChunk reads one stored chunk: io.EOF at the end, errTorn for anything
// that is not a whole chunk.
func readChunk(r *bufio.Reader) (Chunk, error) {
	var head [headBytes]byte
	if n, err := io.ReadFull(r, head[:]); err != nil {
		if n == 0 && errors.Is(err, io.EOF) {
			return Chunk{}, io.EOF
		}
		return Chunk{}, errTorn
	}
	le := binary.LittleEndian
	size := le.Uint32(head[16:])
	if le.Uint32(head[0:]) != chunkMagic || size > MaxChunk {
		return Chunk{}, errTorn
	}
	c := Chunk{Seq: le.Uint32(head[4:]), First: le.Uint64(head[8:]), Data: make([]byte, size)}
	if _, err := io.ReadFull(r, c.Data); err != nil || uint64(c.sum()) != le.Uint64(head[20:]) {
		return Chunk{}, errTorn
	}
	return c, nil
}
