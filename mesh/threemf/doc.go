// Package threemf reads and writes 3MF files after the open 3MF core
// specification, version 1.3: a zip archive with a model in XML that carries a
// unit, objects, components and the items to be built.
//
// Read follows the build: every item's object, through components and
// transforms, becomes one body (mesh.Solid) for each mesh it reaches, in file
// units. Models in several parts (production extension) are followed too.
// Colours and other properties are passed over; support objects are left out
// and counted. A file that requires an extension that shapes the part, such as
// beam lattices, is refused.
//
// Nothing in a file is trusted: archives that unpack to a multiple of their
// size, document types and their entities, components that multiply, paths
// that lead out of the archive and numbers without backing are refused.
//
// Write writes one object for each body, with the unit millimetre, metadata
// and, by the materials extension, a colour for every facet. The same mesh
// gives the same bytes.
package threemf
