// Package off reads object files in the OFF form: a line "OFF", the numbers of
// vertices and faces, the vertices, the faces. Colours, normals and texture
// coordinates are passed over, the binary form is refused.
package off
