// Package polygon turns the faces of indexed mesh files into triangles.
package polygon
