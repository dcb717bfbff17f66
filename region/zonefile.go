package region

import (
	"fmt"

	"github.com/golang/geo/r3"
)

// ZoneSpec is a keep zone as a job file gives it: one shape, lengths in mm.
//
//	keep:
//	  - name: bearing seat
//	    bore_near: [12, 0, 30]
//	  - name: flange
//	    box: {low: [0, 0, 0], high: [40, 40, 2]}
//	    stock_mm: 0.5
type ZoneSpec struct {
	Name    string  `json:"name,omitempty" yaml:"name"`
	Note    string  `json:"note,omitempty" yaml:"note"`
	StockMM float64 `json:"stock_mm,omitempty" yaml:"stock_mm"` // 0 masks

	Box       *BoxSpec       `json:"box,omitempty" yaml:"box"`
	Cylinder  *CylinderSpec  `json:"cylinder,omitempty" yaml:"cylinder"`
	Ball      *BallSpec      `json:"ball,omitempty" yaml:"ball"`
	HalfSpace *HalfSpaceSpec `json:"half_space,omitempty" yaml:"half_space"`
	STL       string         `json:"stl,omitempty" yaml:"stl"`
	BoreNear  *[3]float64    `json:"bore_near,omitempty" yaml:"bore_near"`
	PlaneNear *[3]float64    `json:"plane_near,omitempty" yaml:"plane_near"`
}

// BoxSpec is an axis-parallel box by its lowest and highest corner.
type BoxSpec struct {
	Low  [3]float64 `json:"low" yaml:"low"`
	High [3]float64 `json:"high" yaml:"high"`
}

// CylinderSpec is a round bar by its middle.
type CylinderSpec struct {
	Middle   [3]float64 `json:"middle" yaml:"middle"`
	Axis     [3]float64 `json:"axis" yaml:"axis"`
	Diameter float64    `json:"diameter" yaml:"diameter"`
	Length   float64    `json:"length" yaml:"length"`
}

// BallSpec is a full sphere.
type BallSpec struct {
	Centre   [3]float64 `json:"centre" yaml:"centre"`
	Diameter float64    `json:"diameter" yaml:"diameter"`
}

// HalfSpaceSpec is the side of a plane to which the normal points.
type HalfSpaceSpec struct {
	Point  [3]float64 `json:"point" yaml:"point"`
	Normal [3]float64 `json:"normal" yaml:"normal"`
}

// Zone returns the zone that the file asks for. open reads the file of an stl zone.
func (s *ZoneSpec) Zone(open OpenBody) (Zone, error) {
	z := Zone{Name: s.Name, Note: s.Note, StockMM: s.StockMM}
	shapes := s.shapes()
	if s.STL != "" {
		if open == nil {
			return z, fmt.Errorf("%w %q: no file can be read here", ErrZone, s.Name)
		}
		m, err := open(s.STL)
		if err != nil {
			return z, fmt.Errorf("%w %q: %w", ErrZone, s.Name, err)
		}
		shapes = append(shapes, &Body{File: s.STL, Mesh: m})
	}
	if len(shapes) != 1 {
		return z, fmt.Errorf("%w %q: %d shapes; give exactly one of box, cylinder, ball, half_space, stl, bore_near, plane_near", ErrZone, s.Name, len(shapes))
	}
	z.Shape = shapes[0]
	if err := z.Shape.check(); err != nil {
		return z, fmt.Errorf("%w %q: %w", ErrZone, s.Name, err)
	}
	if !(z.StockMM >= 0) {
		return z, fmt.Errorf("%w %q: stock %g mm: give 0 or more", ErrZone, s.Name, z.StockMM)
	}
	return z, nil
}

// shapes lists the shapes given, but for a body from a file.
func (s *ZoneSpec) shapes() (out []Shape) {
	if b := s.Box; b != nil {
		out = append(out, Box{vector(b.Low), vector(b.High)})
	}
	if c := s.Cylinder; c != nil {
		out = append(out, Cylinder{vector(c.Middle), vector(c.Axis), c.Diameter, c.Length})
	}
	if b := s.Ball; b != nil {
		out = append(out, Ball{vector(b.Centre), b.Diameter})
	}
	if h := s.HalfSpace; h != nil {
		out = append(out, HalfSpace{vector(h.Point), vector(h.Normal)})
	}
	if s.BoreNear != nil {
		out = append(out, BoreNear{vector(*s.BoreNear)})
	}
	if s.PlaneNear != nil {
		out = append(out, PlaneNear{vector(*s.PlaneNear)})
	}
	return out
}

func vector(p [3]float64) r3.Vector { return r3.Vector{X: p[0], Y: p[1], Z: p[2]} }
