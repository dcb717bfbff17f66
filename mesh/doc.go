// Package mesh holds an indexed triangle mesh in millimetres: welding of loose
// facets, topology, measures and safe repair.
//
// A facet's corners run counterclockwise seen from outside the metal, so its
// normal points out of the part. Facet and vertex numbers are int32; a
// half-edge is the number 3*f+k and runs from corner k of facet f to corner
// (k+1)%3.
//
// The package reads no files (see mesh/stl and mesh/threemf) and moves no
// surface (see offset/grow).
package mesh
