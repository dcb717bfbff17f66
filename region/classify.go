package region

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync/atomic"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
)

// angleTol widens the vertical class at its limit, in radians. Corners of an
// STL file are rounded to 24 bits, which turns the normal of a well-shaped
// facet by about 1e-7; without the tolerance a plane at exactly the limit
// would be sorted by its rounding.
const angleTol = 1e-6

// noiseBits says how flat a facet may be before its normal means nothing: a
// facet lower than 2^-noiseBits of the largest coordinate lies within the
// rounding of single-precision corners (2^-24 each, two corners in doubt).
const noiseBits = 23

// unknown labels a facet whose normal means nothing until its neighbours lend
// it their skin.
const unknown Skin = 0xff

// ErrBuildDir is returned for a build direction that is zero or not finite.
var ErrBuildDir = errors.New("the build direction has no length; give three numbers that are not all zero")

// Options says how facets are sorted.
type Options struct {
	// BuildDir points from the first layer to the last; its length is of no matter.
	BuildDir r3.Vector

	// VerticalFrom is the inclination to the platform from which a facet is
	// vertical, the limit itself included; 0 to 90 degrees.
	VerticalFrom s1.Angle

	// MinIslandMM2 is the area below which a patch of one skin joins the
	// neighbour that shares the longest border with it; 0 keeps all patches.
	MinIslandMM2 float64

	// OnPlatform says that the part stands on the platform without supports:
	// downskin facets with all corners within PlatformTolMM of the lowest
	// corner are then Platform.
	OnPlatform    bool
	PlatformTolMM float64
}

// Sorting is how the facets of a mesh were sorted; slices are as long as its facets.
type Sorting struct {
	Skin []Skin

	// Inclination is the angle between a facet and the platform, 0 for flat
	// and 90 degrees for upright; facets of no area have that of a neighbour.
	Inclination []s1.Angle

	Flat          int     // facets of no area, which took their neighbours' skin
	Islands       int     // patches that joined a neighbour
	IslandAreaMM2 float64 // their area
}

// Classify sorts the facets of m by their inclination to the platform
// (references.md section 1): theta = atan2(|n x b|, |n.b|); Vertical from the
// limit on, otherwise Upskin or Downskin by the sign of n.b. topo is the
// topology of m. The order of the facets does not matter.
func Classify(m *mesh.Mesh, topo *mesh.Topology, opt Options) (*Sorting, error) {
	b, err := unitDir(opt.BuildDir)
	if err != nil {
		return nil, err
	}
	if err := opt.check(); err != nil {
		return nil, err
	}
	n := len(m.Facets)
	s := &Sorting{Skin: make([]Skin, n), Inclination: make([]s1.Angle, n)}
	flat := flatBelow(m)
	platform := platformTest(m, b, opt)
	var low atomic.Int64
	mesh.InChunks(n, 0, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			s.Skin[f], s.Inclination[f] = sortFacet(m, f, b, opt.VerticalFrom, flat)
			if s.Skin[f] == unknown {
				low.Add(1)
			} else if s.Skin[f] == Downskin && platform(f) {
				s.Skin[f] = Platform
			}
		}
	})
	s.Flat = int(low.Load())
	if s.Flat > 0 || opt.MinIslandMM2 > 0 {
		newPatches(m, topo, s).merge(opt.MinIslandMM2)
		s.lendInclination(m, topo, flat)
	}
	return s, nil
}

// check tells what is wrong with the options.
func (o *Options) check() error {
	switch {
	case math.IsNaN(float64(o.VerticalFrom)) || o.VerticalFrom < 0 || o.VerticalFrom > 90*s1.Degree:
		return fmt.Errorf("vertical from %.3g degrees: give an angle from 0 to 90", o.VerticalFrom.Degrees())
	case math.IsNaN(o.MinIslandMM2) || o.MinIslandMM2 < 0:
		return fmt.Errorf("least island area %g mm2: give 0 or more", o.MinIslandMM2)
	case math.IsNaN(o.PlatformTolMM) || o.PlatformTolMM < 0:
		return fmt.Errorf("platform tolerance %g mm: give 0 or more", o.PlatformTolMM)
	}
	return nil
}

// unitDir returns d at length 1, bit for bit where it has that already but for rounding.
func unitDir(d r3.Vector) (r3.Vector, error) {
	if math.Abs(d.Norm2()-1) < 1e-14 {
		return d, nil
	}
	big := max(math.Abs(d.X), math.Abs(d.Y), math.Abs(d.Z))
	if !(big > 0) || math.IsInf(big, 0) {
		return r3.Vector{}, ErrBuildDir
	}
	return d.Mul(1 / big).Normalize(), nil
}

// Inclination returns the angle between a face of normal n and the platform
// under build direction b, 0 to 90 degrees. Neither needs unit length; exact
// when a component is zero, and accurate at both ends where acos is not.
func Inclination(n, b r3.Vector) s1.Angle {
	return s1.Angle(math.Atan2(n.Cross(b).Norm(), math.Abs(n.Dot(b))))
}

// sortFacet returns skin and inclination of facet f; the skin is unknown when
// the facet is lower than flat.
func sortFacet(m *mesh.Mesh, f int, b r3.Vector, from s1.Angle, flat float64) (Skin, s1.Angle) {
	p, q, r := m.Triangle(f)
	n := q.Sub(p).Cross(r.Sub(p))
	if flatTriangle(p, q, r, n, flat) {
		return unknown, 90 * s1.Degree
	}
	theta := Inclination(n, b)
	return skinOf(n.Dot(b), theta, from), theta
}

// skinOf applies the limit.
func skinOf(c float64, theta, from s1.Angle) Skin {
	switch {
	case theta >= from-angleTol || c == 0:
		return Vertical
	case c > 0:
		return Upskin
	default:
		return Downskin
	}
}

// flatBelow returns the height in mm below which a facet of m has no normal.
func flatBelow(m *mesh.Mesh) float64 {
	lo, hi := m.Bounds()
	big := max(lo.Abs().X, lo.Abs().Y, lo.Abs().Z, hi.Abs().X, hi.Abs().Y, hi.Abs().Z)
	return math.Ldexp(big, -noiseBits)
}

// platformTest returns a test for facets that lie in the lowest plane.
func platformTest(m *mesh.Mesh, b r3.Vector, opt Options) func(f int) bool {
	if !opt.OnPlatform {
		return func(int) bool { return false }
	}
	low := make([]float64, (len(m.Facets)+mesh.Chunk-1)/mesh.Chunk)
	mesh.InChunks(len(m.Facets), 0, func(lo, hi int) {
		least := math.Inf(1)
		for f := lo; f < hi; f++ {
			p, q, r := m.Triangle(f)
			least = min(least, p.Dot(b), q.Dot(b), r.Dot(b))
		}
		low[lo/mesh.Chunk] = least
	})
	limit := slices.Min(append(low, math.Inf(1))) + opt.PlatformTolMM
	return func(f int) bool {
		p, q, r := m.Triangle(f)
		return max(p.Dot(b), q.Dot(b), r.Dot(b)) <= limit
	}
}

// lendInclination gives facets of no area the inclination of the neighbour of
// their own skin across their longest edge; without one it stays 90 degrees.
func (s *Sorting) lendInclination(m *mesh.Mesh, topo *mesh.Topology, flat float64) {
	if s.Flat == 0 {
		return
	}
	for f := range m.Facets {
		if !isFlat(m, f, flat) {
			continue
		}
		best := 0.0
		for k := range 3 {
			g := topo.Twin[3*f+k]
			if g == mesh.None || isFlat(m, int(g/3), flat) || s.Skin[g/3] != s.Skin[f] {
				continue
			}
			if l := m.Corner(f, k).Distance(m.Corner(f, (k+1)%3)); l > best {
				best, s.Inclination[f] = l, s.Inclination[g/3]
			}
		}
	}
}

// isFlat tells whether facet f is lower than flat.
func isFlat(m *mesh.Mesh, f int, flat float64) bool {
	p, q, r := m.Triangle(f)
	return flatTriangle(p, q, r, q.Sub(p).Cross(r.Sub(p)), flat)
}

// flatTriangle is isFlat for the corners of a facet and the cross product n of two of its sides.
func flatTriangle(p, q, r, n r3.Vector, flat float64) bool {
	long := math.Sqrt(max(q.Sub(p).Norm2(), r.Sub(q).Norm2(), p.Sub(r).Norm2()))
	return !(n.Norm() > flat*long)
}

// Areas returns the area of every skin in mm2, indexed by Skin.
func (s *Sorting) Areas(m *mesh.Mesh) [len(Skins)]float64 {
	var a [len(Skins)]float64
	for f, k := range s.Skin {
		a[k] += m.FacetArea(f)
	}
	return a
}
