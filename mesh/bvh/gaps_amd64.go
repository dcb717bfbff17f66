package bvh

import (
	"github.com/golang/geo/r3"
	"golang.org/x/sys/cpu"
)

var hasLanes = cpu.X86.HasAVX2

// gaps measures the squared distances from q to the sixteen boxes of n, 0 inside,
// and returns a bit for each that is not above limit. Boxes beyond the count of n
// mean nothing. It rounds as gap2 does, a handful of times to single precision.
//
//go:noescape
func gaps(n *wideNode, q *[3]float32, limit float32, d *[width]float32) uint32

// slabs measures how far r goes to enter the sixteen boxes of n, 0 when it begins
// inside, and returns a bit for each that it enters within limit.
//
//go:noescape
func slabs(n *wideNode, r *wideRay, limit float32, d *[width]float32) uint32

// overlaps returns a bit for each of the eight boxes at first that has something in
// common with b. Their coordinates lie in rows, see facetBoxes.
//
//go:noescape
func overlaps(first *float32, row int, b *bounds) uint32

// within returns a bit for each of the sixteen boxes of n to which the square of the
// distance from the box around mid +- half, along the axes of n, is not above limit.
//
//go:noescape
func within(n *wideNode, mid, half *[3]float32, limit float32) uint32

// distances sets d to what distance2 says of p and the facets at the four places of
// tri, without a limit, to the last bit.
//
//go:noescape
func distances(tri *[3]int32, v *r3.Vector, at *[4]int32, p *r3.Vector, d *[4]float64)
