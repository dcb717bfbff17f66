package screen

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh/sym3"
	"skinstock/region"
)

// Bounds of what counts as the wall of a round passage.
const (
	rays      = 24   // a section looks this many ways
	wallBand  = 0.15 // a wall lies within this share of the radius from the circle: a hexagon's corners are 7 % out, a coarse thread's 12 %
	farAway   = 6.0  // radii: beyond this a way counts as open
	roundness = 0.06 // rms deviation in radii up to which a hole is round: a hexagon has 4.5 %, a short obround 8 %, a square 12 %
)

var fan = func() (f [rays][2]float64) {
	for k := range f {
		// Half a step off zero, so that axis-parallel parts are not hit in their edges.
		s, c := math.Sincos(2 * math.Pi * (float64(k) + 0.37) / rays)
		f[k] = [2]float64{c, s}
	}
	return f
}()

// section is a cut across a passage.
type section struct {
	c     r3.Vector // centre of the fitted circle
	r     float64   // its radius
	walls float64   // share of the ways that meet a wall near the circle
	shut  float64   // share of the ways that meet a wall not far away
	rms   float64   // deviation of the walls from the circle, share of r
	near  float64   // least distance to a wall, in fitted radii

	normals sym3.Matrix // of the walls, for the axis
	tilted  int         // walls that do not run along the axis
	n       int         // walls
}

// cut looks around from c across the axis a and fits a circle of about radius r.
// ok is false when c lies in the metal or there is no circle.
func (p *part) cut(c, a r3.Vector, r float64) (s section, ok bool) {
	u, v := region.Across(a)
	var d [rays]float64
	var n [rays]r3.Vector
	for k := range rays {
		d[k] = math.Inf(1)
		h, hit := p.tree.Ray(c, u.Mul(fan[k][0]).Add(v.Mul(fan[k][1])), 0, farAway*r)
		if !hit {
			continue
		}
		if h.Side > 0 {
			return s, false
		}
		d[k], n[k] = h.T, p.normal[h.Facet]
		s.shut += 1.0 / rays
	}
	var x, y float64
	var buf [rays][2]float64
	for _, band := range [3]float64{0.6, 0.3, wallBand} {
		xy := buf[:0]
		for k := range rays {
			px, py := d[k]*fan[k][0], d[k]*fan[k][1]
			if math.Abs(math.Hypot(px-x, py-y)-r) <= band*r {
				xy = append(xy, [2]float64{px, py})
			}
		}
		if len(xy) < rays/3 {
			return s, false
		}
		nx, ny, nr, fit := region.FitCircle(xy)
		if !fit || math.Hypot(nx, ny) > 0.9*nr || nr > 2*r || nr < r/2 {
			return s, false
		}
		x, y, r = nx, ny, nr
	}
	s.near = math.Inf(1)
	for k := range rays {
		if math.IsInf(d[k], 1) {
			continue
		}
		px, py := d[k]*fan[k][0], d[k]*fan[k][1]
		l := math.Hypot(px-x, py-y)
		s.near = min(s.near, l/r)
		if math.Abs(l-r) > wallBand*r {
			continue
		}
		s.n++
		s.rms += (l/r - 1) * (l/r - 1)
		if math.Abs(n[k].Dot(a)) > 0.35 {
			s.tilted++
		} else {
			s.normals.Add(n[k], 1)
		}
	}
	if s.n == 0 {
		return s, false
	}
	s.walls = float64(s.n) / rays
	s.rms = math.Sqrt(s.rms / float64(s.n))
	s.c = c.Add(u.Mul(x)).Add(v.Mul(y))
	s.r = r
	return s, true
}

// axis returns the direction that the walls share, when they are clear enough
// about it, turned to the side of a.
func (s *section) axis(a r3.Vector) r3.Vector {
	if s.tilted*5 > s.n {
		return a
	}
	val, vec := s.normals.Eigen()
	if val[1] < 0.15*val[0] || val[2] > 0.5*val[1] {
		return a
	}
	n := vec[2]
	if n.Dot(a) < 0 {
		n = n.Mul(-1)
	}
	if n.Dot(a) < 0.8 { // more than 37 degrees: no passage turns so fast in a step
		return a
	}
	return n
}
