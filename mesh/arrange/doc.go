// Package arrange turns a closed surface that crosses itself into one that
// does not: the boundary of the region with winding number 1 or more.
//
// A part whose surface was moved outwards crosses itself where walls met
// across a gap (winding number 2 behind the meeting) and where the surface
// folded (0 or -1 in the fold). A part made of many overlapping bodies does so
// from the start. In both cases the metal is where the winding number is
// positive, and [Resolve] returns the surface of just that.
//
// Facets that cross nothing stay as they are, bit for bit, vertex for vertex. Who
// knows which facets meet has a patch around them resolved and put back.
// A facet that crosses others is cut along the crossing lines, and the pieces
// on the surface of the region are kept. All decisions are exact: cut points
// are held as quotients of integers until the surface is chosen. Exact
// contacts (faces in one plane, a corner on a face, bodies that share an edge)
// have no clean answer, so the vertices concerned are first moved outwards by
// a fraction of a micrometre, which joins what touches.
//
// Cut points are then rounded to what an STL file can hold, short edges and
// slivers left by the cut are taken out, and the result is tested exactly
// again on the rounded coordinates; what rounding made cross is resolved in
// another round. A mesh that still touches or crosses itself is never
// returned.
//
// The package knows nothing of allowances and does not remesh.
package arrange
