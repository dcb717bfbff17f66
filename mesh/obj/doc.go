// Package obj reads the faces of Wavefront OBJ files, as their published
// description of 1992 has them: v and f lines, negative numbers, polygons,
// objects as bodies. Texture, normals, materials and groups are passed over;
// curves and surfaces are refused, since a part would lack them.
package obj
