package order

import (
	"math"
	"slices"
)

// How much likelier a shape is at a point than anything is counted in whole
// grains, and looked up: what one value says of two shapes is one entry of a
// table, one in its lower and one in its upper half, so one sum serves both.
const (
	beatGrain  = 1 << 11 // grains of a score in 1 nat; the best path through the longest tape stays below 1 << 31
	tableShift = 5
	tableGrain = beatGrain << tableShift // of an entry: hundreds of them make a score
	levels     = 256                     // of a value
	levelSteps = 20                      // in one spread; a value beyond ±6 is a stray to any shape
)

// levelsOf rounds a row of spread 1.
func levelsOf(row []float32) []uint8 {
	out := make([]uint8, len(row))
	for i, v := range row {
		out[i] = uint8(min(max(int(v*levelSteps+levels/2), 0), levels-1))
	}
	return out
}

// weigh fills gains: how much likelier each shape is at each of some points than
// anything, ln, in grains; 0 at the others.
func (s *beatSeeker) weigh(shapes []beatShape, points []int) {
	for _, g := range s.gains {
		clear(g)
	}
	whole, _ := slices.BinarySearch(points, len(s.at)-s.unit+1)
	points = points[:whole]
	for i := 0; i < len(shapes); i += 2 {
		sums := s.sums[:len(points)]
		clear(sums)
		pair := [2]beatShape{shapes[i], shapes[min(i+1, len(shapes)-1)]}
		for b, row := range s.levels {
			fillTable(s.table, pair, b)
			addFrom(s.table, sums, row, points)
		}
		bases := [2]int32{pair[0].base(), pair[1].base()}
		for k, dst := range s.gains[i:min(i+2, len(shapes))] {
			for j, at := range points {
				dst[at] = int32(uint32(sums[j]>>(32*k))>>tableShift) + bases[k]
			}
		}
	}
}

// fillTable has for each point of a shape and level of a band what speaks for
// the shapes.
func fillTable(table [][levels]uint64, pair [2]beatShape, band int) {
	for i := range table {
		for c := range levels {
			v := (float32(c) + 0.5 - levels/2) / levelSteps
			table[i][c] = pair[0].speaks(band, i, v) | pair[1].speaks(band, i, v)<<32
		}
	}
}

// speaks is what a value says for a shape, up to a constant, in fine grains.
func (s beatShape) speaks(band, i int, v float32) uint64 {
	d := v - s.mean[band][i]
	square, distance := v*v, d*d*s.inverse[band][i]
	if square > beatStray {
		square = beatStray
	}
	if distance > beatStray {
		distance = beatStray
	}
	return uint64((beatStray+square-distance)*(beatTemper/2*tableGrain) + 0.5)
}

const dozen = 12

// addFrom adds for each point what the values from there on say.
func addFrom(table [][levels]uint64, sums []uint64, row []uint8, points []int) {
	for j, at := range points {
		var sum uint64
		values := row[at : at+len(table)]
		for i := 0; i < len(table); i += dozen { // as all units are
			t, v := (*[dozen][levels]uint64)(table[i:]), (*[dozen]uint8)(values[i:])
			sum += t[0][v[0]] + t[1][v[1]] + t[2][v[2]] + t[3][v[3]] + t[4][v[4]] + t[5][v[5]]
			sum += t[6][v[6]] + t[7][v[7]] + t[8][v[8]] + t[9][v[9]] + t[10][v[10]] + t[11][v[11]]
		}
		sums[j] += sum
	}
}

// base is the constant that speaks left out, in grains.
func (s beatShape) base() int32 {
	var sum float64
	for _, inverse := range s.inverse {
		for _, v := range inverse {
			sum += math.Log(float64(v)) - beatStray
		}
	}
	return int32(math.Round(sum * beatTemper / 2 * beatGrain))
}
