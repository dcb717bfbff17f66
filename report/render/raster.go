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

// projected is the mesh as the view sees it.
type projected struct {
	x, y []int32   // fixed-point samples, y down
	z    []float64 // depth in mm
}

func (f *Frame) project(ctx context.Context, m *Model) (*projected, error) {
	v := m.Mesh.Vertices
	p := &projected{x: make([]int32, len(v)), y: make([]int32, len(v)), z: make([]float64, len(v))}
	k := float64(f.n * one)
	far := make([]bool, (len(v)+chunkSize-1)/chunkSize)
	err := chunks(ctx, len(v), f.opt.Workers, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			x, y, z := f.View.Project(v[i], f.w, f.h)
			x, y = math.Round(x*k), math.Round(y*k)
			if !(math.Abs(x) < maxFixed && math.Abs(y) < maxFixed) {
				far[lo/chunkSize] = true
				return
			}
			p.x[i], p.y[i], p.z[i] = int32(x), int32(y), z
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

// sort puts the facets that face the eye and touch a sample into bands, each
// band in facet order.
func (f *Frame) sort(ctx context.Context, m *mesh.Mesh, p *projected) ([][]int32, error) {
	type rows struct{ lo, hi int16 } // bands, hi < lo for none
	of := make([]rows, len(m.Facets))
	per := bandPixels * f.n
	err := chunks(ctx, len(of), f.opt.Workers, func(lo, hi int) {
		for t := lo; t < hi; t++ {
			of[t] = rows{0, -1}
			a, b, c := m.Facets[t][0], m.Facets[t][1], m.Facets[t][2]
			cross := turn(p, a, b, c)
			if cross == 0 || (cross > 0 && !f.opt.TwoSided) {
				continue
			}
			x0, x1 := span(min(p.x[a], p.x[b], p.x[c]), max(p.x[a], p.x[b], p.x[c]), f.w*f.n)
			y0, y1 := span(min(p.y[a], p.y[b], p.y[c]), max(p.y[a], p.y[b], p.y[c]), f.h*f.n)
			if x1 < x0 || y1 < y0 {
				continue
			}
			of[t] = rows{int16(y0 / per), int16(y1 / per)}
		}
	})
	if err != nil {
		return nil, err
	}
	count := make([]int, len(f.bands))
	for _, r := range of {
		for b := r.lo; b <= r.hi; b++ {
			count[b]++
		}
	}
	list := make([][]int32, len(f.bands))
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
func turn(p *projected, a, b, c int32) int64 {
	abx, aby := int64(p.x[b])-int64(p.x[a]), int64(p.y[b])-int64(p.y[a])
	acx, acy := int64(p.x[c])-int64(p.x[a]), int64(p.y[c])-int64(p.y[a])
	return abx*acy - aby*acx
}

func (f *Frame) rasterise(ctx context.Context, m *Model, p *projected) error {
	lists, err := f.sort(ctx, m.Mesh, p)
	if err != nil {
		return err
	}
	return each(ctx, len(f.bands), f.opt.Workers, func(b int) {
		for _, t := range lists[b] {
			f.fill(p, t, m.Mesh.Facets[t], f.bands[b])
		}
	})
}

// edge is the function a*x + b*y + c of one side of a triangle, positive inside.
type edge struct{ a, b, c int64 }

func side(p *projected, i, j int32) edge {
	xi, yi := int64(p.x[i]), int64(p.y[i])
	xj, yj := int64(p.x[j]), int64(p.y[j])
	e := edge{a: yi - yj, b: xj - xi}
	e.c = -(e.a*xi + e.b*yi)
	// Points on a side belong to the triangle right of or below it only: the
	// neighbour, which runs the side the other way, does not take them.
	if !(e.a > 0 || (e.a == 0 && e.b > 0)) {
		e.c--
	}
	return e
}

func (e edge) at(x, y int64) int64 { return e.a*x + e.b*y + e.c }

// fill writes the samples of a facet in a band where it is nearer than what is there.
func (f *Frame) fill(p *projected, id int32, t [3]int32, rows band) {
	a, b, c := t[0], t[1], t[2]
	area := turn(p, a, b, c)
	if area < 0 {
		b, c, area = c, b, -area
	}
	x0, x1 := span(min(p.x[a], p.x[b], p.x[c]), max(p.x[a], p.x[b], p.x[c]), f.w*f.n)
	y0, y1 := span(min(p.y[a], p.y[b], p.y[c]), max(p.y[a], p.y[b], p.y[c]), f.h*f.n)
	y0, y1 = max(y0, rows.lo), min(y1, rows.hi-1)
	if x1 < x0 || y1 < y0 {
		return
	}
	for tile, per := x0/(bandPixels*f.n), bandPixels*f.n; tile*per <= x1; tile++ {
		rows.part[tile] = true
	}
	ea, eb, ec := side(p, b, c), side(p, c, a), side(p, a, b)
	za, zb, zc := p.z[a], p.z[b], p.z[c]
	// On needles rounding may carry the plane beyond the corners: hold it between them.
	near, far := float32(min(za, zb, zc)), float32(max(za, zb, zc))
	inv, db, dc := 1/float64(area), zb-za, zc-za
	sx, sy := int64(x0*one+one/2), int64(y0*one+one/2)
	wa, wb, wc := ea.at(sx, sy), eb.at(sx, sy), ec.at(sx, sy)
	for y := y0; y <= y1; y++ {
		ra, rb, rc := wa, wb, wc
		row := y * f.w * f.n
		for x := x0; x <= x1; x++ {
			if ra|rb|rc >= 0 { // none is negative
				z := float32(za + float64((float64(float64(rb)*db)+float64(float64(rc)*dc))*inv))
				z = min(max(z, near), far)
				if i := row + x; z < f.depth[i] {
					f.depth[i], f.facet[i] = z, id
				}
			}
			ra, rb, rc = ra+ea.a*one, rb+eb.a*one, rc+ec.a*one
		}
		wa, wb, wc = wa+ea.b*one, wb+eb.b*one, wc+ec.b*one
	}
}
