package field

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/sym3"
)

// surface is the cut mesh with its patches: where the flux per panel is handed
// back to facets and vertices.
type surface struct {
	c      *cut
	patch  []int32 // per facet of c, or None for facets of no area
	area   []float64
	centre []r3.Vector
	normal []r3.Vector // area vectors
	shut   []bool      // per patch: insulated, takes no current
	n      int
}

func newSurface(c *cut, patch []int32, n int) *surface {
	s := &surface{c: c, patch: patch, n: n, area: make([]float64, n), centre: make([]r3.Vector, n), normal: make([]r3.Vector, n), shut: make([]bool, n)}
	for f, p := range patch {
		if p == mesh.None {
			continue
		}
		x, y, z := c.Triangle(f)
		v := c.AreaNormal(f).Mul(0.5)
		a := v.Norm()
		s.area[p] += a
		s.shut[p] = c.insulated(int32(f))
		s.normal[p] = s.normal[p].Add(v)
		s.centre[p] = s.centre[p].Add(x.Add(y).Add(z).Mul(a / 3))
	}
	for p := range s.centre {
		s.centre[p] = s.centre[p].Mul(1 / s.area[p])
	}
	return s
}

// linear is the flux over a patch as a plane through its mean, with the range
// of values around it.
type linear struct {
	mean, lo, hi float64
	gradient     r3.Vector
}

// fitCosine bounds the turn between patches that share a gradient: 40 degrees.
var fitCosine = math.Cos(40 * math.Pi / 180)

// fit lays planes by least squares through the neighbours' means, never across a sharp turn.
func (s *surface) fit(q []float64) []linear {
	out := make([]linear, s.n)
	lhs := make([]sym3.Matrix, s.n)
	rhs := make([]r3.Vector, s.n)
	for p := range out {
		out[p] = linear{mean: q[p], lo: q[p], hi: q[p]}
	}
	join := func(p, o int32) {
		d := s.centre[o].Sub(s.centre[p])
		w := 1 / d.Norm2()
		lhs[p].Add(d, w)
		rhs[p] = rhs[p].Add(d.Mul(w * (q[o] - q[p])))
		out[p].lo, out[p].hi = math.Min(out[p].lo, q[o]), math.Max(out[p].hi, q[o])
	}
	in := s.c.Incidence()
	var around []int32
	for v := range s.c.Vertices {
		around = s.around(in, int32(v), around[:0])
		for i, p := range around {
			for _, o := range around[:i] {
				if s.normal[p].Dot(s.normal[o]) > fitCosine*s.normal[p].Norm()*s.normal[o].Norm() {
					join(p, o)
					join(o, p)
				}
			}
		}
	}
	for p := range out {
		// Across the surface nothing is known: hold the gradient in the tangent plane.
		l := &lhs[p]
		k := l.Trace()
		if k == 0 {
			continue
		}
		l.Add(s.normal[p].Normalize(), k)
		out[p].gradient = l.Solve(1e-3*k, rhs[p]) // the ridge keeps a row of neighbours in one line from setting a wild gradient across it
	}
	return out
}

// variation is the mean over the area of the gap between a patch's value and
// what its neighbours' planes foretell there.
func (s *surface) variation(fits []linear) float64 {
	gap, count := make([]float64, s.n), make([]float64, s.n)
	in := s.c.Incidence()
	var around []int32
	for v := range s.c.Vertices {
		around = s.around(in, int32(v), around[:0])
		for _, p := range around {
			for _, o := range around {
				if o != p && s.normal[p].Dot(s.normal[o]) > fitCosine*s.normal[p].Norm()*s.normal[o].Norm() {
					gap[p] += math.Abs(fits[o].value(s.centre[p].Sub(s.centre[o])) - fits[p].mean)
					count[p]++
				}
			}
		}
	}
	var sum, area float64
	for p := range gap {
		if count[p] > 0 {
			sum += s.area[p] * gap[p] / count[p]
			area += s.area[p]
		}
	}
	if area == 0 {
		return 0
	}
	return sum / area
}

// around lists the patches that take current at a vertex, each once, in corner order.
func (s *surface) around(in *mesh.Incidence, v int32, out []int32) []int32 {
next:
	for _, h := range in.Of(v) {
		p := s.patch[h/3]
		if p == mesh.None || s.shut[p] {
			continue
		}
		for _, o := range out {
			if o == p {
				continue next
			}
		}
		out = append(out, p)
	}
	return out
}

// value is the plane at d from the patch's centre, kept within half a range of the values around
// and from turning negative.
func (l *linear) value(d r3.Vector) float64 {
	e := 0.5 * (l.hi - l.lo)
	return math.Max(math.Max(0, l.lo-e), math.Min(l.hi+e, l.mean+l.gradient.Dot(d)))
}

// facets returns the flux through every facet of the part (flux times area)
// and its area. What the patches take is shared out without loss.
func (s *surface) facets(fits []linear, parts int) (flux, area []float64) {
	local := make([]float64, len(s.patch))
	sum := make([]float64, s.n)
	for f, p := range s.patch {
		if p == mesh.None {
			continue
		}
		a, b, c := s.c.Triangle(f)
		local[f] = fits[p].value(a.Add(b).Add(c).Mul(1./3).Sub(s.centre[p])) * s.c.FacetArea(f)
		sum[p] += local[f]
	}
	flux, area = make([]float64, parts), make([]float64, parts)
	for f, p := range s.patch {
		if p == mesh.None {
			continue
		}
		a := s.c.FacetArea(f)
		// The planes miss the mean of a bent patch a little: bring it back in proportion.
		if l := &fits[p]; l.mean > 0 && sum[p] > 0 {
			flux[s.c.parent[f]] += local[f] * (l.mean * s.area[p] / sum[p])
		} else {
			flux[s.c.parent[f]] += l.mean * a
		}
		area[s.c.parent[f]] += a
	}
	return flux, area
}

// vertices returns the flux at the first n vertices. At sharp edges, where no
// value exists, it is the mean over the strip beside them, or over the panels at the edge;
// onlySharp leaves the others 0.
func (s *surface) vertices(fits []linear, n int, strip float64, onlySharp bool) []float64 {
	sharp := s.sharpVertices(n)
	in := s.c.Incidence()
	out := make([]float64, n)
	seen := make([]int32, len(s.c.Facets)) // by facet: one more than the vertex whose strip took it last
	var around []int32
	for v := range out {
		if sharp[v] {
			out[v] = s.stripMean(in, fits, int32(v), strip, seen)
			continue
		}
		if onlySharp {
			continue
		}
		if around = s.around(in, int32(v), around[:0]); len(around) == 0 {
			out[v] = s.nearby(in, fits, int32(v))
			continue
		}
		out[v] = s.vertex(fits, around, s.c.Vertices[v])
	}
	return out
}

// nearby is the mean over the patches one facet further, for a vertex among facets of no area.
func (s *surface) nearby(in *mesh.Incidence, fits []linear, v int32) float64 {
	var sum, area float64
	for _, h := range in.Of(v) {
		for _, w := range s.c.Facets[h/3] {
			for _, g := range in.Of(w) {
				if p := s.patch[g/3]; p != mesh.None && !s.shut[p] {
					a := s.c.FacetArea(int(g / 3))
					sum += a * fits[p].mean
					area += a
				}
			}
		}
	}
	if area == 0 {
		return 0
	}
	return sum / area
}

// vertex returns the flux at a place among patches: the mean of the patches'
// planes there, which is too high on a rise by a c c for a curve a x x and
// patches c away, and of the plane through their means, too low by as much.
func (s *surface) vertex(fits []linear, around []int32, at r3.Vector) float64 {
	var planes, means, weight float64
	var centre, gradient r3.Vector
	for _, p := range around {
		d := at.Sub(s.centre[p])
		w := 1 / d.Norm2()
		planes += w * fits[p].value(d)
		means += w * fits[p].mean
		centre = centre.Add(d.Mul(w))
		gradient = gradient.Add(fits[p].gradient.Mul(w))
		weight += w
	}
	if weight == 0 {
		return 0
	}
	planes /= weight
	if len(around) < 3 {
		return planes
	}
	through := means/weight + gradient.Dot(centre)/(weight*weight)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range around {
		lo, hi = math.Min(lo, fits[p].lo), math.Max(hi, fits[p].hi)
	}
	e := 0.5 * (hi - lo)
	return math.Max(math.Max(0, lo-e), math.Min(hi+e, 0.5*(planes+through)))
}

func (s *surface) sharpVertices(n int) []bool {
	sharp := make([]bool, len(s.c.Vertices))
	cos := math.Cos(sharpFrom.Radians())
	t := s.c.Topology()
	for h, g := range t.Twin {
		if g < int32(h) {
			continue
		}
		a, b := s.c.FacetNormal(h/3), s.c.FacetNormal(int(g/3))
		if a != (r3.Vector{}) && b != (r3.Vector{}) && a.Dot(b) < cos {
			sharp[s.c.Origin(int32(h))], sharp[s.c.Target(int32(h))] = true, true
		}
	}
	return sharp[:n]
}

// discPerStrip is the radius of a disc about a place on an edge over the width of the
// strip of the same mean, of a flux as r^(-1/3) to the edge: (B(1/3, 3/2)/(3 pi/4))^3.
const discPerStrip = 1.23

// stripMean is the mean flux over the strip beside the edge at a vertex, taken from
// the disc that amounts to it, or over the patches that touch the vertex when those are wider.
func (s *surface) stripMean(in *mesh.Incidence, fits []linear, v int32, strip float64, seen []int32) float64 {
	at := s.c.Vertices[v]
	strip *= discPerStrip
	var sum, area float64
	take := func(f int32) {
		if p := s.patch[f]; p != mesh.None && !s.shut[p] {
			a := s.c.FacetArea(int(f))
			sum += a * fits[p].mean
			area += a
		}
	}
	var stack []int32
	mark := v + 1
	visit := func(v int32) {
		for _, h := range in.Of(v) {
			if seen[h/3] != mark {
				seen[h/3] = mark
				stack = append(stack, h/3)
			}
		}
	}
	visit(v)
	touching := len(stack)
	for i := 0; i < len(stack) && i < 4096; i++ {
		a, b, c := s.c.Triangle(int(stack[i]))
		if i < touching || a.Add(b).Add(c).Mul(1./3).Sub(at).Norm() < strip {
			take(stack[i])
		}
		for _, w := range s.c.Facets[stack[i]] {
			if s.c.Vertices[w].Sub(at).Norm() < strip {
				visit(w)
			}
		}
	}
	if area == 0 {
		return s.nearby(in, fits, v)
	}
	return sum / area
}
