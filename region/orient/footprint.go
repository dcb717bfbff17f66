package orient

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// flat is a point seen along the build direction.
type flat struct{ x, y float64 }

// footprint returns the sides, longer first, of the smallest rectangle that
// holds points seen along b, in mm; the part may be turned about b. A side of it
// lies along a side of their hull (Freeman and Shapira 1975).
func footprint(points []r3.Vector, b r3.Vector) (long, wide float64) {
	u := b.Ortho().Normalize()
	v := b.Cross(u)
	seen := make([]flat, len(points))
	for i, p := range points {
		seen[i] = flat{p.Dot(u), p.Dot(v)}
	}
	ring := hull(seen)
	best := math.Inf(1)
	for i := range ring {
		p, q := ring[i], ring[(i+1)%len(ring)]
		ex, ey := q.x-p.x, q.y-p.y
		l := math.Hypot(ex, ey)
		if l == 0 {
			continue
		}
		ex, ey = ex/l, ey/l
		lo, hi, far := math.Inf(1), math.Inf(-1), 0.0
		for _, r := range ring {
			along, across := (r.x-p.x)*ex+(r.y-p.y)*ey, (r.y-p.y)*ex-(r.x-p.x)*ey
			lo, hi, far = min(lo, along), max(hi, along), max(far, across)
		}
		if a := (hi - lo) * far; a < best {
			best, long, wide = a, max(hi-lo, far), min(hi-lo, far)
		}
	}
	return long, wide
}

// hull returns the convex hull of points, counterclockwise (Andrew 1979).
func hull(points []flat) []flat {
	ps := slices.Clone(points)
	slices.SortFunc(ps, func(a, b flat) int { return cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.y, b.y)) })
	if len(ps) < 3 {
		return ps
	}
	chain := func(out []flat, next func(i int) flat) []flat {
		start := len(out)
		for i := range ps {
			p := next(i)
			for n := len(out); n-start >= 2; n = len(out) {
				a, b := out[n-2], out[n-1]
				if (b.x-a.x)*(p.y-a.y)-(b.y-a.y)*(p.x-a.x) > 0 {
					break
				}
				out = out[:n-1]
			}
			out = append(out, p)
		}
		return out[:len(out)-1]
	}
	out := chain(nil, func(i int) flat { return ps[i] })
	return chain(out, func(i int) flat { return ps[len(ps)-1-i] })
}

// fits tells whether a build of the given footprint and height goes into an
// envelope of length, width and height; the zero envelope holds everything.
func fits(envelope [3]float64, long, wide, height float64) bool {
	if envelope == [3]float64{} {
		return true
	}
	return height <= envelope[2] && long <= max(envelope[0], envelope[1]) && wide <= min(envelope[0], envelope[1])
}
