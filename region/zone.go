package region

import (
	"fmt"
	"math"
	"strconv"
	"sync"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// Zone marks functional faces that are kept as they are or left for machining.
type Zone struct {
	Name  string // empty names the zone after its shape
	Note  string
	Shape Shape

	// StockMM is the stock to leave for later machining; 0 masks the faces:
	// nothing is added and nothing comes off in the bath.
	StockMM float64
}

// Mask tells whether the zone's faces are masked.
func (z *Zone) Mask() bool { return z.StockMM == 0 }

// Label returns the zone's name, or its shape when it has none.
func (z *Zone) Label() string {
	if z.Name != "" {
		return z.Name
	}
	return z.Shape.String()
}

// Treatment returns "mask" or "stock 0.5" as on the command line.
func (z *Zone) Treatment() string {
	if z.Mask() {
		return "mask"
	}
	return "stock " + number(z.StockMM)
}

// Shape says which facets a zone takes: a body takes those whose corners all
// lie in it, a pick those of a feature of the part.
type Shape interface {
	fmt.Stringer // the shape as the command line takes it
	check() error
}

// body is a shape that takes what lies in it.
type body interface {
	Shape
	// within tells whether p is inside or no more than slack mm outside.
	within(p r3.Vector, slack float64) bool
}

// Box is an axis-parallel box between two corners, mm.
type Box struct{ Lo, Hi r3.Vector }

// Cylinder is a round bar about its middle, mm; its axis may have any length.
type Cylinder struct {
	Middle, Axis     r3.Vector
	Diameter, Length float64
}

// Ball is a full sphere, mm.
type Ball struct {
	Centre   r3.Vector
	Diameter float64
}

// HalfSpace is everything on the side of a plane to which Normal points.
type HalfSpace struct{ Point, Normal r3.Vector }

// Body is a closed mesh; File is where it came from.
type Body struct {
	File string
	Mesh *mesh.Mesh // mm

	once sync.Once // a zone may serve several parts at once
	tree *bvh.Tree
}

// BoreNear picks the bore nearest to a point.
type BoreNear struct{ Point r3.Vector }

// PlaneNear picks the plane face nearest to a point.
type PlaneNear struct{ Point r3.Vector }

func (s Box) String() string { return "box " + triple(s.Lo) + " " + triple(s.Hi) }

func (s Cylinder) String() string {
	return "cylinder " + triple(s.Middle) + " axis " + triple(s.Axis) + " diameter " + number(s.Diameter) + " length " + number(s.Length)
}

func (s Ball) String() string { return "ball " + triple(s.Centre) + " diameter " + number(s.Diameter) }

func (s HalfSpace) String() string {
	return "half-space " + triple(s.Point) + " normal " + triple(s.Normal)
}
func (s *Body) String() string     { return "stl " + s.File }
func (s BoreNear) String() string  { return "bore near " + triple(s.Point) }
func (s PlaneNear) String() string { return "plane near " + triple(s.Point) }

// number writes a number as short as it reads back.
func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

func triple(v r3.Vector) string { return number(v.X) + "," + number(v.Y) + "," + number(v.Z) }

func (s Box) check() error {
	if err := finite(s.Lo, s.Hi); err != nil {
		return err
	}
	if d := s.Hi.Sub(s.Lo); !(d.X > 0 && d.Y > 0 && d.Z > 0) {
		return fmt.Errorf("%s: the second corner must be above the first in x, y and z", s)
	}
	return nil
}

func (s Cylinder) check() error {
	if err := finite(s.Middle); err != nil {
		return err
	}
	if _, err := unitDir(s.Axis); err != nil {
		return fmt.Errorf("%s: the axis has no direction", s)
	}
	if !(s.Diameter > 0 && s.Length > 0) || math.IsInf(s.Diameter*s.Length, 0) {
		return fmt.Errorf("%s: diameter and length must be above 0", s)
	}
	return nil
}

func (s Ball) check() error {
	if !(s.Diameter > 0) || math.IsInf(s.Diameter, 0) {
		return fmt.Errorf("%s: the diameter must be above 0", s)
	}
	return finite(s.Centre)
}

func (s HalfSpace) check() error {
	if _, err := unitDir(s.Normal); err != nil {
		return fmt.Errorf("%s: the normal has no direction", s)
	}
	return finite(s.Point)
}

func (s *Body) check() error {
	if s.Mesh == nil || len(s.Mesh.Facets) == 0 {
		return fmt.Errorf("%s: the body has no facets", s)
	}
	if !s.Mesh.Topology().Closed() {
		return fmt.Errorf("%s: the body is not closed, so it has no inside", s)
	}
	return nil
}
func (s BoreNear) check() error  { return finite(s.Point) }
func (s PlaneNear) check() error { return finite(s.Point) }

// finite tells which point is no place.
func finite(ps ...r3.Vector) error {
	for _, p := range ps {
		if s := p.X + p.Y + p.Z; math.IsNaN(s) || math.IsInf(s, 0) {
			return fmt.Errorf("point %s is no place", triple(p))
		}
	}
	return nil
}

func (s Box) within(p r3.Vector, e float64) bool {
	return p.X >= s.Lo.X-e && p.Y >= s.Lo.Y-e && p.Z >= s.Lo.Z-e && p.X <= s.Hi.X+e && p.Y <= s.Hi.Y+e && p.Z <= s.Hi.Z+e
}

func (s Cylinder) within(p r3.Vector, e float64) bool {
	k := s.Axis.Normalize()
	w := p.Sub(s.Middle)
	h := w.Dot(k)
	return math.Abs(h) <= s.Length/2+e && w.Sub(k.Mul(h)).Norm() <= s.Diameter/2+e
}

func (s Ball) within(p r3.Vector, e float64) bool { return p.Distance(s.Centre) <= s.Diameter/2+e }

func (s HalfSpace) within(p r3.Vector, e float64) bool {
	return p.Sub(s.Point).Dot(s.Normal.Normalize()) >= -e
}

func (s *Body) within(p r3.Vector, e float64) bool {
	s.once.Do(func() { s.tree = bvh.New(s.Mesh, 0) })
	if s.tree.Inside(p) {
		return true
	}
	_, near := s.tree.ClosestWithin(p, e, bvh.NoHint)
	return near
}
