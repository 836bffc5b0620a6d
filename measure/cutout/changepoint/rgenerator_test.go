package changepoint_test

import "math"

// normalsOfR draws n standard normals as R's set.seed and rnorm do: Mersenne
// twister (Matsumoto and Nishimura 1998) seeded by 50 + 625 steps of a
// congruential generator, and inversion with 2^27 steps.
func normalsOfR(seed uint32, n int) []float64 {
	r := seedR(seed)
	out := make([]float64, n)
	const big = 134217728
	for i := range out {
		u := math.Floor(big*r.unif()) + r.unif()
		out[i] = math.Sqrt2 * math.Erfinv(2*(u/big)-1)
	}
	return out
}

type twister struct {
	state [624]uint32
	next  int
}

func seedR(seed uint32) *twister {
	step := func() uint32 { seed = 69069*seed + 1; return seed }
	for range 50 {
		step()
	}
	r := &twister{next: 624}
	step() // the place in the state, overwritten
	for i := range r.state {
		r.state[i] = step()
	}
	return r
}

func (r *twister) refill() {
	for i := range r.state {
		y := r.state[i]&0x80000000 | r.state[(i+1)%624]&0x7fffffff
		v := r.state[(i+397)%624] ^ y>>1
		if y&1 == 1 {
			v ^= 0x9908b0df
		}
		r.state[i] = v
	}
	r.next = 0
}

func (r *twister) unif() float64 {
	if r.next == 624 {
		r.refill()
	}
	y := r.state[r.next]
	r.next++
	y ^= y >> 11
	y ^= y << 7 & 0x9d2c5680
	y ^= y << 15 & 0xefc60000
	y ^= y >> 18
	return float64(y) * 2.3283064365386963e-10
}
