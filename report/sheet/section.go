package sheet

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"

	"skinstock/mesh/bvh"
)

// Cut says where a section is taken.
type Cut struct {
	Title string // why here: "thickest allowance"

	// At is a point of the plane and, when Focus is set, the place that the
	// inset magnifies; otherwise the inset shows the place of the plane with
	// the most allowance.
	At    r3.Vector
	Focus bool

	// Normal is the plane's normal; the zero vector lets the section choose one
	// that shows the wall at At at its true thickness.
	Normal r3.Vector
}

// axisNames are the letters of planes across an axis.
const axisNames = "xyz"

// ParseCut reads a plane across an axis of the part, as "x=12.5", in mm.
func ParseCut(s string) (Cut, error) {
	name, value, ok := strings.Cut(s, "=")
	axis := strings.Index(axisNames, strings.ToLower(strings.TrimSpace(name)))
	v, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
	if !ok || len(strings.TrimSpace(name)) != 1 || axis < 0 || err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return Cut{}, fmt.Errorf("section %q: want an axis and a place in mm, such as x=12.5", s)
	}
	c := Cut{Title: "as asked", Normal: axisVector(axis)}
	c.At = c.Normal.Mul(v)
	return c, nil
}

func axisVector(i int) r3.Vector {
	return [...]r3.Vector{{X: 1}, {Y: 1}, {Z: 1}}[i]
}

// AutoCutCount is how many sections AutoCuts returns.
const AutoCutCount = 3

// AutoCuts returns three sections at telling places: the thickest allowance,
// then the given spots and those of the input, then cuts through the middle of the part
// across its shortest sides, whose outlines are the largest. A place or plane
// that nearly repeats one before is left out.
func (s *Stage) AutoCuts(spots ...Spot) []Cut {
	lo, hi := s.in.Nominal.Bounds()
	d := hi.Sub(lo)
	near := 0.02 * d.Norm()
	f := s.thickest()
	a, b, c := s.in.Grown.Triangle(f)
	thick := Cut{Title: "thickest allowance", At: a.Add(b).Add(c).Mul(1. / 3), Focus: true}
	if thick.Normal = s.telling(thick.At); !s.meets(thick) { // the face beside it is nearer, and cut along this one
		thick.Normal = s.square(s.in.Grown.FacetNormal(f))
	}
	cuts := []Cut{thick}
	for _, p := range slices.Concat(spots, s.in.Spots) {
		again := slices.ContainsFunc(cuts, func(c Cut) bool { return c.At.Distance(p.At) < near })
		if len(cuts) == AutoCutCount || again {
			continue
		}
		if c := (Cut{Title: p.Title, At: p.At, Focus: true, Normal: s.telling(p.At)}); s.meets(c) {
			cuts = append(cuts, c)
		}
	}
	sides := [...]float64{d.X, d.Y, d.Z}
	axes := []int{0, 1, 2}
	slices.SortStableFunc(axes, func(a, b int) int { return cmp.Compare(sides[a], sides[b]) })
	for _, axis := range axes {
		c := Cut{Title: "middle of the part", At: lo.Add(hi).Mul(0.5), Normal: axisVector(axis)}
		again := slices.ContainsFunc(cuts, func(o Cut) bool {
			return math.Abs(o.Normal.Dot(c.Normal)) > 0.999 && math.Abs(c.At.Sub(o.At).Dot(c.Normal)) < near
		})
		if len(cuts) < AutoCutCount && !again {
			cuts = append(cuts, c)
		}
	}
	return cuts
}

// Spot is a place worth a section, such as the thinnest wall.
type Spot struct {
	Title string
	At    r3.Vector // mm
}

// meets tells whether the plane of a cut meets the part.
func (s *Stage) meets(c Cut) bool {
	p := s.plane(c)
	return p.meets(s.in.Nominal) || p.meets(s.in.Grown)
}

// plane returns the plane of a cut.
func (s *Stage) plane(c Cut) plane {
	if c.Normal == (r3.Vector{}) {
		c.Normal = s.telling(c.At)
	}
	return newPlane(c.At, c.Normal, s.in.BuildDir)
}

// thickest returns the largest facet of the grown part among those within a
// thousandth of the most allowance.
func (s *Stage) thickest() int {
	best, area := 0, -1.0
	most := s.figures[Allowance].most / 1000
	for f := range s.in.Grown.Facets {
		if mean(s.in.AllowanceOf(f)) >= most*(1-1e-3) {
			if a := s.in.Grown.FacetArea(f); a > area {
				best, area = f, a
			}
		}
	}
	if area < 0 { // no facet has the most over all its corners
		for f := range s.in.Grown.Facets {
			if mean(s.in.AllowanceOf(f)) > mean(s.in.AllowanceOf(best)) {
				best = f
			}
		}
	}
	return best
}

// Section cuts the part and draws the outlines, with the inset. It fails when
// the plane misses the part.
func (s *Stage) Section(ctx context.Context, c Cut) (*Drawing, error) {
	sec := &section{stage: s, cut: c, plane: s.plane(c)}
	sec.nominal = cut(s.in.Nominal, sec.plane)
	sec.grown = cut(s.in.Grown, sec.plane)
	if s.in.Finished != nil {
		sec.finished = cut(s.in.Finished, sec.plane)
	}
	if len(sec.nominal) == 0 && len(sec.grown) == 0 {
		return nil, fmt.Errorf("%w: the section %s does not meet the part", ErrInput, sec.where())
	}
	sec.pick()
	return sec.draw(), ctx.Err()
}

// telling returns a plane's normal through a place such that the surface
// nearest to it is cut squarely: across an axis where one fits within some
// degrees, so that the plane has a plain name.
func (s *Stage) telling(at r3.Vector) r3.Vector {
	return s.square(s.in.Nominal.FacetNormal(s.nearest(at)))
}

// square returns a plane's normal such that a surface of normal n is cut squarely.
func (s *Stage) square(n r3.Vector) r3.Vector {
	best, least := -1, 0.1 // sine of 6 degrees: lengths 0.5 % too long
	for i := range 3 {
		if d := math.Abs(n.Dot(axisVector(i))); d < least-1e-9 {
			best, least = i, d
		}
	}
	if best >= 0 {
		return axisVector(best)
	}
	b := s.in.BuildDir.Normalize()
	if m := n.Cross(b); m.Norm() > 0.1 {
		return m.Normalize()
	}
	return n.Ortho()
}

// nearest returns the facet whose plane and middle lie nearest to a place: a
// plain search, good enough to choose a view.
func (s *Stage) nearest(at r3.Vector) int {
	best, least := 0, math.Inf(1)
	m := s.in.Nominal
	for f := range m.Facets {
		a, b, c := m.Triangle(f)
		if boxGap2(at, a, b, c) >= least {
			continue // nearly all
		}
		p := bvh.ClosestOnTriangle(at, a, b, c)
		if d := p.Sub(at).Norm2(); d < least {
			best, least = f, d
		}
	}
	return best
}

// boxGap2 is the square of the distance from a place to the box around a triangle.
func boxGap2(p, a, b, c r3.Vector) float64 {
	x := max(min(a.X, b.X, c.X)-p.X, p.X-max(a.X, b.X, c.X), 0)
	y := max(min(a.Y, b.Y, c.Y)-p.Y, p.Y-max(a.Y, b.Y, c.Y), 0)
	z := max(min(a.Z, b.Z, c.Z)-p.Z, p.Z-max(a.Z, b.Z, c.Z), 0)
	return x*x + y*y + z*z
}
