// Package grow moves the surface of a part outwards so that every facet has
// its allowance of stock.
//
// A vertex moves by the shortest vector d with n.d >= a for every facet around
// it (n the facet's outward normal, a its allowance): on smooth skin that is
// the normal times the allowance, on edges and corners the exact mitre, with
// unequal allowances as well; where allowances differ across a smooth border
// the larger wins. Over the smooth surface an allowance falls to a smaller one
// no steeper than a slope, so that no step is printed; across a sharp edge
// nothing spreads, so a box keeps exact sizes. Where it varies, moves are
// stretched by up to two percent for the tilt of the stock's surface.
//
// Facets may be kept: they stay in their planes, and the allowance rises from
// their border with the slope.
//
// Voxel-born meshes are full of slivers and aliased edges on which vertices
// would pass each other. Where growing turns a facet over, its corners answer
// to the facets of their neighbourhood as well; what crosses after that is for
// mesh/arrange to resolve.
//
// The package does not judge its own result; offset/verify does, by distance.
//
//	r, err := grow.Grow(ctx, m, topo, allowanceMM, grow.Options{MaxSlope: 0.15, MitreLimit: 4})
//	grown := m.WithVertices(r.Vertices)
package grow
