package stl

import (
	"fmt"

	"skinstock/mesh/file"
)

// Error says what is wrong with a file and where.
type Error = file.Error

// What can be wrong with an STL file. Every *Error wraps one of these.
var (
	ErrEmpty       = file.ErrEmpty
	ErrNotSTL      = file.ErrFormat
	ErrNoFacets    = file.ErrNoFacets
	ErrTruncated   = file.ErrTruncated
	ErrSyntax      = file.ErrSyntax
	ErrNumber      = file.ErrNumber
	ErrVertexCount = file.ErrVertexCount
	ErrNotFinite   = file.ErrNotFinite
	ErrTooLarge    = file.ErrTooLarge
)

func tooLarge(opt Options, e Error) error {
	e.Err, e.Remedy = ErrTooLarge, "raise the limit, or coarsen the mesh"
	e.Found = fmt.Sprintf("more than %d facets, the limit set for one part", opt.MaxFacets)
	return &e
}
