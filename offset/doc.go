// Package offset is the main job as one call: from a part and a process to the
// grown part, the plan of the bath and the proof.
//
//	p, err := part.Read("bracket.stl", r, size, part.Options{})
//	job := offset.Job{Recipe: rec, BuildDir: r3.Vector{Z: 1}}
//	res, err := offset.Compensate(ctx, p, job)
//	stl.WriteBinary(w, res.Grown, "bracket")
//
// The steps are the packages below it: region sorts the skins, offset/removal
// plans, offset/limit keeps gaps open, offset/grow moves the surface, mesh/arrange
// takes out what crosses, offset/verify proves. This package only hands results from one to the next
// and collects the findings.
package offset
