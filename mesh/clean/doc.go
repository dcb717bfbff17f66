// Package clean takes slivers out of a closed surface without moving it by more
// than a chord tolerance: edges much shorter than the rest are collapsed, and
// low facets are flipped or collapsed away. Meshers that march through voxels
// leave many of them, with normals that mean nothing.
//
//	m, report, err := clean.Slivers(ctx, m, clean.Options{ChordMM: 0.001})
//
// Facets away from slivers stay as they are, in their order, with their source
// numbers. The package makes no hole, no edge of more than two facets and no
// vertex of two fans; it does not look for other parts of the surface nearer
// than the tolerance.
package clean
