package practice

import (
	"hash/fnv"
	"math/rand/v2"
)

// dice is one stream of random numbers. Every use has its own stream, named by
// a word, so that adding a sensor never changes what the engine does. All
// draws are made with integer arithmetic on PCG-DXSM (math/rand/v2), which
// gives the same numbers on every machine.
type dice struct{ src *rand.PCG }

func newDice(seed uint64, use string) dice {
	h := fnv.New64a()
	h.Write([]byte(use))
	return dice{rand.NewPCG(seed, h.Sum64())}
}

// unit is uniform in [0, 1).
func (d dice) unit() float64 { return float64(d.src.Uint64()>>11) / (1 << 53) }

// normal is near-Gaussian with mean 0 and deviation 1: the sum of twelve
// uniform 16-bit numbers (Irwin–Hall), bounded by ±6.
func (d dice) normal() float64 {
	var sum uint64
	for range 3 {
		sum += lanes(d.src.Uint64())
	}
	return (float64(sum)+6)/65536 - 6 // +6: each lane's mean is 32767.5
}

// hiss is a cheap near-Gaussian for sampled noise: four uniform lanes,
// deviation 1, bounded by ±√12.
func (d dice) hiss() float64 {
	const scale = 1.7320508075688772 / 65536
	return (float64(lanes(d.src.Uint64())) - 2*65535) * scale
}

func lanes(u uint64) uint64 { return u&0xffff + u>>16&0xffff + u>>32&0xffff + u>>48 }

// below is uniform in 0…n−1.
func (d dice) below(n int) int { return int(d.unit() * float64(n)) }

// Dice is a stream of random numbers for the parts of practice that hide
// things: the same on every machine for a seed and a use.
type Dice struct{ d dice }

// NewDice begins the stream of a seed for a use.
func NewDice(seed uint64, use string) Dice { return Dice{newDice(seed, use)} }

// Unit is uniform in [0, 1).
func (d Dice) Unit() float64 { return d.d.unit() }

// Below is uniform in 0…n−1.
func (d Dice) Below(n int) int { return d.d.below(n) }
