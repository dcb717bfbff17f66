// Package limit lowers the allowance where surfaces face each other, so that a
// gap stays open after growing, and says where stock is missing for it.
//
// Two places face each other when their normals are at least an angle apart
// (120 degrees unless told otherwise) and a ball outside the metal touches both. The
// ball's diameter is the gap (see mesh/bvh/room); when both places grow by a and b, a ball
// smaller by a + b stays between them. Of the gap less what must stay open each side
// may have one half, and what one side does not need the other may have. An
// ordinary concave edge, whose faces do not face each other, is not limited: there the
// grown faces meet in a mitre.
//
// The lowered allowance rises again no steeper than a slope over the smooth
// surface, and does not spread across sharp edges, as the allowance itself
// does not. Geometry wins over stock: what is missing is reported by place and depth.
package limit
