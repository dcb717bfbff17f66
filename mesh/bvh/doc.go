// Package bvh answers questions of place about a triangle mesh: the nearest
// point, what a ray meets, which facets lie in a box or a ball, how often the
// surface winds around a point, and which facets cross each other.
//
// A Tree is built once, in parallel, and read by any number of goroutines. It
// keeps a copy of the vertices in the order of its leaves, so that places near
// to each other are near in memory. Boxes are single precision and a little
// larger than what they hold; distances, hits and signs are computed in double
// precision from the mesh's own coordinates, and whatever decides by a sign
// alone (SelfCrossings, Winding) uses exact predicates.
//
// Before many questions for the nearest place or for what rays meet, Widen lays boxes side
// by side for processors that measure eight at once. It changes no answer.
//
//	t := bvh.New(m, 0)
//	h := t.Closest(p, bvh.NoHint)
//	fmt.Println(h.Facet, h.Point, h.Dist)
//
// Answers do not depend on the number of workers or on the hint given.
package bvh
