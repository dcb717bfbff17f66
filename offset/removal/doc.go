// Package removal turns as-built roughness into depth, time, charge and mass:
// numbers only, no mesh.
//
// [New] takes a recipe and the area of each skin, or a [Histogram] of area by
// skin and inclination, and returns a [Plan]: what each skin calls for, what the
// bath takes from it, and the allowance by which it must be printed proud. [Plan.At]
// answers the same for one place of the surface.
//
// Lengths are um here and areas mm2, unless a name says otherwise. With
//
//	Ra, Rz, Rp, Rv   as-built roughness, Rz = Rp + Rv
//	Rt, Rf           target and floor of Ra
//	d0               levelling depth
//	b                oversize of the as-built mean surface
//	v, f             removal rate and local exposure factor
//
// a place calls for R = max(clear*Rv, d0*ln((Ra-Rf)/(Rt-Rf))). In shared
// exposure the bath runs t = max R/(v f) and takes D = v t f everywhere; in own
// exposure D = R. The allowance is D + stand-off - b + extra, where the stand-off
// is Rp if the machine's size calibration touches the peaks and 0 if it goes by the mean.
package removal
