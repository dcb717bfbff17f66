// Package ply reads and writes polygon files in the PLY form: a text header
// that declares elements and their properties, then text or binary records
// (Turk 1994). The reader takes the coordinates of the vertices and the corner
// lists of the faces; the writer adds values per vertex, such as the
// allowance, for other programs to look at.
package ply
