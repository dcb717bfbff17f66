// Package orient ranks build directions by what they cost: downskin area by
// inclination, what the process makes of it (time, stock), flat downskin that
// needs support, and build height.
//
// Directions are scored on a histogram of normals, which takes milliseconds;
// the best are then tried again on the real mesh. Process numbers come in as a
// function, so the package knows no recipe.
//
//	r, err := orient.Rank(ctx, m, topo, orient.Options{VerticalFrom: 60 * s1.Degree, Cost: cost})
//	turned := orient.Turn(m, r.Best[0].Dir) // the part standing on its best side
package orient
