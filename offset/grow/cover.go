package grow

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

const (
	// coverSides is the number of sides of the figure that stands for a circle
	// in a cover: 8 put its corners 8 % outside.
	coverSides = 8

	// coverSunk is how deep a cover's foot lies in the part, as a share of its reach.
	coverSunk = 0.05

	// A cover stands proud of its reach by coverProud to twice that, in mm, a
	// little else for every facet: covers that ended in one plane with each other
	// or with grown facets would have no clean union.
	coverProud = 1e-4
)

// Cover returns a closed body that holds every point in front of facet f of m
// within reach (mm) of it: half of the facet's parallel body, with the round
// rim as a polygon; with whole, the other half too. The union of a part with the covers of facets has their
// stock wherever moving vertices does not give it: at needles, in folds and
// where facets turned over. It reaches no further than 1.18 times reach from
// the facet. The body is nil when reach is 0 or the facet has no area.
func Cover(m *mesh.Mesh, f int, reach float64, whole bool) *mesh.Mesh {
	n := m.FacetNormal(f)
	if n == (r3.Vector{}) || !(reach > 0) {
		return nil
	}
	r := scatter(uint64(f))
	reach += coverProud * (1 + r)
	rim := rimOf(m, f, n, 2*math.Pi/coverSides*scatter(uint64(f)+1<<32))
	// In every plane across the rim the half circle lies in half of an octagon about it.
	edge := math.Tan(math.Pi/8) * reach
	wide := reach / math.Cos(math.Pi/coverSides)
	type level struct{ height, radius float64 }
	narrow := wide * math.Tan(math.Pi/8)
	levels := []level{{-coverSunk * (1 + r) * reach, wide}, {edge, wide}, {reach, narrow}}
	if whole {
		levels = []level{{-reach, narrow}, {-edge, wide}, {edge, wide}, {reach, narrow}}
	}
	c, k := &mesh.Mesh{}, int32(len(rim))
	for _, l := range levels {
		for _, p := range rim {
			c.Vertices = append(c.Vertices, p.corner.Add(p.dir.Mul(l.radius)).Add(n.Mul(l.height)))
		}
	}
	c.RoundToFloat32()
	last := k * int32(len(levels)-1)
	for i := int32(1); i+1 < k; i++ {
		c.Facets = append(c.Facets, [3]int32{0, i + 1, i}, [3]int32{last, last + i, last + i + 1})
	}
	for l := int32(0); l < last; l += k {
		for i := range k {
			j := (i + 1) % k
			c.Facets = append(c.Facets, [3]int32{l + i, l + j, l + k + j}, [3]int32{l + i, l + k + j, l + k + i})
		}
	}
	return c
}

// rimPoint is a corner of a triangle widened all around by r: corner + r dir.
type rimPoint struct{ corner, dir r3.Vector }

// rimOf returns the corners of facet f widened by a polygon of coverSides
// sides that is turned by turn, counterclockwise about the normal n: the
// Minkowski sum of two convex polygons, whose corners are the pairs of corners
// that lie furthest out in a common direction.
func rimOf(m *mesh.Mesh, f int, n r3.Vector, turn float64) []rimPoint {
	x := m.Corner(f, 1).Sub(m.Corner(f, 0)).Normalize()
	y := n.Cross(x)
	along := func(angle float64) r3.Vector {
		s, c := math.Sincos(angle)
		return x.Mul(c).Add(y.Mul(s))
	}
	furthest := func(dir r3.Vector) int {
		best := 0
		for k := 1; k < 3; k++ {
			if dir.Dot(m.Corner(f, k).Sub(m.Corner(f, best))) > 0 {
				best = k
			}
		}
		return best
	}
	const half = math.Pi / coverSides
	var rim []rimPoint
	k := furthest(along(turn - half))
	for i := range coverSides {
		at := turn + float64(i)*2*half
		dir := along(at)
		rim = append(rim, rimPoint{m.Corner(f, k), dir})
		for end := furthest(along(at + half)); k != end; {
			k = (k + 1) % 3
			rim = append(rim, rimPoint{m.Corner(f, k), dir})
		}
	}
	return rim
}

// scatter returns a number in [0, 1) that looks random but depends on i alone
// (the finaliser of SplitMix64: Steele, Lea and Flood 2014).
func scatter(i uint64) float64 {
	i += 0x9e3779b97f4a7c15
	i = (i ^ i>>30) * 0xbf58476d1ce4e5b9
	i = (i ^ i>>27) * 0x94d049bb133111eb
	return float64((i^i>>31)>>11) * 0x1p-53
}
