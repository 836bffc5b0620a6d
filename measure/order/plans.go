package order

import (
	"sync"

	"gonum.org/v1/gonum/dsp/fourier"
)

// plans keeps transforms by length: making one costs more than using it. A
// plan has scratch space of its own, so each is lent to one user at a time.
var plans sync.Map // of int to *sync.Pool

// withPlan lends the transform of a length to use.
func withPlan(length int, use func(*fourier.FFT)) {
	pool, ok := plans.Load(length)
	if !ok {
		pool, _ = plans.LoadOrStore(length, &sync.Pool{New: func() any { return fourier.NewFFT(length) }})
	}
	fft := pool.(*sync.Pool).Get().(*fourier.FFT)
	use(fft)
	pool.(*sync.Pool).Put(fft)
}
