// Package recipe holds the data file of a print and finish process: what the
// printer leaves, what the bath takes, and the limits the screening works with.
//
// A recipe is a strict YAML file of format version 1. Every number in it is
// written in one of two ways:
//
//	rate_um_per_min: 4
//	rate_um_per_min: {value: 4, source: measured, by: "coupons of lot 12", uncertainty: 0.6, note: fresh bath}
//
// A bare number counts as assumed. In the long form source is measured,
// published (then by names the publication) or assumed; uncertainty is the
// half-width of the 95 % band, in the unit of the value. Optional numbers that a
// file leaves out take the program's default, which counts as assumed too.
// Units stand in the names of the keys.
//
// [Load] returns a recipe built into the program, [Parse] and [Read] take one
// from outside. A recipe that comes back without an error has passed every
// check. The package reads no files and computes no plan (see offset/removal).
package recipe
