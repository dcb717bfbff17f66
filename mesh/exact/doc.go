// Package exact decides geometric questions without rounding error: on which
// side of a plane or a line a point lies, and whether two triangles have a
// point in common. Coordinates are taken as they are, in double precision, and
// the answers are those of exact arithmetic.
//
// Each predicate first evaluates in double precision and trusts the sign when
// it is larger than a bound on the rounding error (Shewchuk, "Adaptive
// Precision Floating-Point Arithmetic and Fast Robust Geometric Predicates",
// Discrete & Computational Geometry 18, 1997). Otherwise it evaluates again
// with expansions, sums of doubles whose value is exact, and where those could
// leave the range of doubles with rational numbers.
//
// Not-a-number and infinite coordinates are not allowed; the answer is then
// meaningless, but nothing panics.
package exact
