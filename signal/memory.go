package signal

import "io"

// Memory is a source of samples that are already there: a whole recording, or
// one made for a test.
type Memory struct{ rest []float32 }

// FromMemory reads x from its start; x is kept, not copied.
func FromMemory(x []float32) *Memory { return &Memory{x} }

// Read fills dst and gives the number of samples, then io.EOF.
func (m *Memory) Read(dst []float32) (int, error) {
	if len(m.rest) == 0 {
		return 0, io.EOF
	}
	n := copy(dst, m.rest)
	m.rest = m.rest[n:]
	return n, nil
}
