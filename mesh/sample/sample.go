// Package sample spreads points over triangles evenly, without chance and
// without a seed.
package sample

import "math"

// The R2 sequence (M. Roberts, "The unreasonable effectiveness of
// quasirandom sequences", 2018): multiples of 1/g and 1/g^2 for the root g of
// x^3 = x + 1 fill a square evenly.
const (
	plastic = 1.32471795724474602596
	stepX   = 1 / plastic
	stepY   = 1 / (plastic * plastic)
)

// Inside returns the weights of the corners for point i of a triangle, i from
// 0 on: the centroid, then the R2 sequence folded into the triangle. The
// first n points are spread evenly for any n.
func Inside(i int) [3]float64 {
	if i == 0 {
		return [3]float64{1.0 / 3, 1.0 / 3, 1.0 / 3}
	}
	_, u := math.Modf(0.5 + float64(float64(i)*stepX))
	_, v := math.Modf(0.5 + float64(float64(i)*stepY))
	if u+v > 1 {
		u, v = 1-u, 1-v
	}
	return [3]float64{1 - u - v, u, v}
}
