// Package remesh builds the grown surface anew from the distance to the part,
// for parts whose own facets cannot be moved without crossings, and for parts
// whose bodies overlap.
//
// # The level
//
// A place x outside the metal has the level |x - y| - a(y), y being the nearest
// place of the part and a the allowance there; where y lies on an edge or corner
// that juts out, the level is the largest of n.(x - y) - a over the facets that
// meet there, so that edges end in their mitre, up to the mitre limit. Where
// walls with different allowances are near, each nearest place of its own counts,
// and the least level holds. Metal is where the part's surface winds
// around a place at least once: bodies that overlap are one, and what lies
// within others has no say.
//
// # The surface
//
// The surface of level zero is meshed by dual contouring (Ju, Losasso, Schaefer
// and Warren, "Dual contouring of Hermite data", SIGGRAPH 2002): on a cubic grid,
// every edge whose ends differ in sign is cut where the level is zero, with the
// normal there; every cell gets the point that fits the tangent planes on its edges best
// (least squares, truncated), which lies on edges and corners where there
// are any; the four cells around a cut edge give two facets. A cell through which the surface passes
// more than once has one point for each sheet (Nielson, "Dual marching cubes",
// Visualization 2004), and faces that would leave an edge with four facets are
// parted the other way (Wenger, "Isosurfaces", 2013, section 3.4). Only cells near the surface are ever looked at:
// cubes are halved as long as the level at their middle lets the surface pass.
//
// Facets are new ones, none of the part's is left. What is smaller than a cell
// may be lost; the proof tells. Facets that meet all the same, as slivers beside
// edges may, are cut by package arrange. The package does not prove anything.
package remesh
