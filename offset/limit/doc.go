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
// Nor are the walls of a groove or crotch of one body, however sharp: it may fill
// up from its valley, where the grown walls meet higher, and no stock is missing. A
// plane section through two facing places tells: in a groove the surface
// between them is short on one way, and either no longer than the width that
// matters (a scratch) or drawn together towards the valley by about half at three quarters
// of its depth. The walls of a slot stay apart all the way down, those of a bore are joined
// by both ways, and bodies apart by none: these stay open.
//
// The lowered allowance rises again no steeper than a slope over the smooth
// surface, and does not spread across sharp edges, as the allowance itself
// does not. Geometry wins over stock: what is missing is reported by place and depth.
package limit
