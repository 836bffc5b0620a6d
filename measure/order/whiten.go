package order

import "gonum.org/v1/gonum/mat"

// whitened takes the mean of each place in a cycle of n out of rows, and the
// correlations between their features.
func whitened(rows [][]float64, n int) [][]float64 {
	const shrink = 0.9 // of the correlations
	d := len(rows[0])
	out := centred(rows, n)
	products := matrix(d, d)
	for _, v := range out {
		for i, a := range v {
			for j, b := range v[:i+1] {
				products[i][j] += a * b
			}
		}
	}
	covariance := mat.NewSymDense(d, nil)
	for i, row := range products {
		for j, sum := range row[:i] {
			covariance.SetSym(i, j, shrink*sum/float64(len(rows)))
		}
		covariance.SetSym(i, i, row[i]/float64(len(rows))+1e-9)
	}
	var root mat.Cholesky
	if !root.Factorize(covariance) {
		return out
	}
	var lower mat.TriDense
	root.LTo(&lower)
	for i := range d {
		weights, whole := make([]float64, i), lower.At(i, i)
		for j := range weights {
			weights[j] = lower.At(i, j)
		}
		for _, v := range out {
			left := v[i]
			for j, w := range weights {
				left -= w * v[j]
			}
			v[i] = left / whole
		}
	}
	return out
}

// centred takes out the mean of each place.
func centred(rows [][]float64, n int) [][]float64 {
	d := len(rows[0])
	means, count := make([]float64, n*d), make([]float64, n)
	for j, v := range rows {
		count[j%n]++
		for i, a := range v {
			means[j%n*d+i] += a
		}
	}
	out := matrix(len(rows), d)
	for j, v := range rows {
		for i, a := range v {
			out[j][i] = a - means[j%n*d+i]/count[j%n]
		}
	}
	return out
}
