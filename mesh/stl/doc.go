// Package stl reads and writes STL files, binary and ASCII, on io.Reader and
// io.Writer.
//
// Read decides between the two forms by the structure of the file, never by
// its first word alone, and takes every count in the file for a claim: memory
// stays in proportion to the bytes that are really there. What a file may
// loosely do (a wrong count, bytes behind the last facet, normals that are no
// numbers) is accepted and said in File.Warnings; what would make a part of
// other shape than was meant (a cut file, a corner that is no number) is
// refused with an *Error that names the place.
//
// The package knows no units, no paths and no welding: corners come out in
// file units, facet by facet (see mesh.Build).
//
//	f, err := stl.Read(r, size, stl.Options{})
//	if err != nil {
//		return fmt.Errorf("%s: %w", name, err)
//	}
//	m, repairs, err := mesh.Build(&f.Soup, mesh.BuildOptions{UnitMM: 1})
package stl
