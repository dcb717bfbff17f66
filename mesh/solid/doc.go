// Package solid makes closed meshes whose measures are known in closed form,
// and voxel-born meshes of implicit bodies. They are the demo part, the gauge
// parts of the tests and the bodies of the benchmarks. Lengths are mm.
package solid
