package render

import (
	"context"
	"errors"
	"math"

	"skinstock/mesh"
)

// Positions in the picture are fixed-point numbers of samples with this many
// fraction bits, so that coverage is decided exactly and neighbours share
// their edge without gap or overlap.
const (
	fracBits = 8
	one      = 1 << fracBits
)

// maxFixed bounds projected positions: products of two differences stay below 2^62.
const maxFixed = 1 << 29

// ErrZoom is returned when a view magnifies so much that the part reaches
// millions of pixels beyond the picture.
var ErrZoom = errors.New("view magnifies the part beyond what can be drawn: choose a smaller scale or cut the part down")

// projected is a vertex as the view sees it.
type projected struct {
	x, y int32   // fixed-point samples, y down
	z    float64 // depth in mm
}

func (f *Frame) project(ctx context.Context, m *Model) ([]projected, error) {
	v := m.Mesh.Vertices
	p := make([]projected, len(v))
	k := float64(f.n * one)
	far := make([]bool, (len(v)+chunkSize-1)/chunkSize)
	err := chunks(ctx, len(v), f.opt.Workers, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			x, y, z := f.View.Project(v[i], f.w, f.h)
			x, y = math.Floor(float64(x*k)+0.5), math.Floor(float64(y*k)+0.5)
			if !(math.Abs(x) < maxFixed && math.Abs(y) < maxFixed) {
				far[lo/chunkSize] = true
				return
			}
			p[i] = projected{int32(x), int32(y), z}
		}
	})
	if err != nil {
		return nil, err
	}
	for _, b := range far {
		if b {
			return nil, ErrZoom
		}
	}
	return p, nil
}

// span is the inclusive range of samples of n whose middles lie in a fixed-point
// range; empty when the second is less than the first.
func span(lo, hi int32, n int) (int, int) {
	// The middle of sample s lies at s*one + one/2.
	a := (int(lo) + one/2 - 1) >> fracBits
	b := (int(hi) - one/2) >> fracBits
	return max(a, 0), min(b, n-1)
}

// box returns the inclusive ranges of samples whose middles lie in the box
// around a facet; ok is false when there are none.
func (f *Frame) box(a, b, c projected) (x0, x1, y0, y1 int, ok bool) {
	x0, x1 = span(min(a.x, b.x, c.x), max(a.x, b.x, c.x), f.w*f.n)
	y0, y1 = span(min(a.y, b.y, c.y), max(a.y, b.y, c.y), f.h*f.n)
	return x0, x1, y0, y1, x0 <= x1 && y0 <= y1
}

// sort lists for every band the facets that face the eye and touch a sample of
// its strip, in facet order.
func (f *Frame) sort(ctx context.Context, m *mesh.Mesh, p []projected, bands []band) ([][]int32, error) {
	type rows struct{ lo, hi int16 } // bands, hi < lo for none
	of := make([]rows, len(m.Facets))
	per, reach := bandPixels*f.n, f.reach()
	err := chunks(ctx, len(of), f.opt.Workers, func(lo, hi int) {
		for t := lo; t < hi; t++ {
			of[t] = rows{0, -1}
			a, b, c := p[m.Facets[t][0]], p[m.Facets[t][1]], p[m.Facets[t][2]]
			cross := turn(a, b, c)
			if cross == 0 || (cross > 0 && !f.opt.TwoSided) {
				continue
			}
			if _, _, y0, y1, ok := f.box(a, b, c); ok {
				of[t] = rows{int16(max(y0-reach, 0) / per), int16(min((y1+reach)/per, len(bands)-1))}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	count := make([]int, len(bands))
	for _, r := range of {
		for b := r.lo; b <= r.hi; b++ {
			count[b]++
		}
	}
	list := make([][]int32, len(bands))
	for b := range list {
		list[b] = make([]int32, 0, count[b])
	}
	for t, r := range of {
		for b := r.lo; b <= r.hi; b++ {
			list[b] = append(list[b], int32(t))
		}
	}
	return list, nil
}

// turn returns twice the area of a projected triangle, negative when it runs
// counterclockwise to the eye (y points down), that is, when it faces the eye.
func turn(a, b, c projected) int64 {
	abx, aby := int64(b.x)-int64(a.x), int64(b.y)-int64(a.y)
	acx, acy := int64(c.x)-int64(a.x), int64(c.y)-int64(a.y)
	return abx*acy - aby*acx
}

// edge is the function a*x + b*y + c of one side of a triangle, positive inside.
type edge struct{ a, b, c int64 }

func side(p, q projected) edge {
	e := edge{a: int64(p.y) - int64(q.y), b: int64(q.x) - int64(p.x)}
	e.c = -(e.a*int64(p.x) + e.b*int64(p.y))
	// Points on a side belong to the triangle right of or below it only: the
	// neighbour, which runs the side the other way, does not take them.
	if !(e.a > 0 || (e.a == 0 && e.b > 0)) {
		e.c--
	}
	return e
}

func (e edge) at(x, y int64) int64 { return e.a*x + e.b*y + e.c }

// fill writes the samples of a facet where it is nearer than what is there.
func (s *strip) fill(id int32, a, b, c projected) {
	area := turn(a, b, c)
	if area < 0 {
		b, c, area = c, b, -area
	}
	x0, x1, y0, y1, _ := s.f.box(a, b, c)
	y0, y1 = max(y0, s.lo), min(y1, s.hi-1)
	if y1 < y0 {
		return
	}
	// On needles rounding may carry the plane beyond the corners: hold it between them.
	near, far := float32(min(a.z, b.z, c.z)), float32(max(a.z, b.z, c.z))
	if s.hides(x0, x1, y0, y1, near) {
		return
	}
	for tile, per := uint32(x0)/uint32(bandPixels*s.f.n), bandPixels*s.f.n; int(tile)*per <= x1; tile++ {
		s.part[tile] = true
	}
	ea, eb, ec := side(b, c), side(c, a), side(a, b)
	inv, db, dc := 1/float64(area), b.z-a.z, c.z-a.z
	sx, sy := int64(x0*one+one/2), int64(y0*one+one/2)
	wa, wb, wc := ea.at(sx, sy), eb.at(sx, sy), ec.at(sx, sy)
	for y := y0; y <= y1; y++ {
		ra, rb, rc := wa, wb, wc
		row := s.row(y)
		in := false
		for x := x0; x <= x1; x++ {
			if ra|rb|rc >= 0 { // none is negative
				in = true
				z := float32(a.z + float64((float64(float64(rb)*db)+float64(float64(rc)*dc))*inv))
				if z < near {
					z = near
				} else if z > far {
					z = far
				}
				if i := row + x; z < s.depth[i] {
					s.depth[i], s.facet[i] = z, id
				}
			} else if in {
				break
			}
			ra, rb, rc = ra+ea.a*one, rb+eb.a*one, rc+ec.a*one
		}
		wa, wb, wc = wa+ea.b*one, wb+eb.b*one, wc+ec.b*one
	}
}

// hides tells whether what is there is nowhere behind a depth, in a box of samples.
func (s *strip) hides(x0, x1, y0, y1 int, z float32) bool {
	for y := y0; y <= y1; y++ {
		row := s.row(y)
		for _, d := range s.depth[row+x0 : row+x1+1] {
			if z < d {
				return false
			}
		}
	}
	return true
}
