package sheet

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh/solid"
)

func TestCutAreas(t *testing.T) {
	z := r3.Vector{Z: 1}
	box := solid.Box(r3.Vector{}, r3.Vector{X: 4, Y: 3, Z: 2})
	tube := solid.Tube(5, 3, 10, 256)
	ball := solid.Icosphere(10, 6)
	polygon := func(r float64, n int) float64 { return float64(n) / 2 * r * r * math.Sin(2*math.Pi/float64(n)) }
	lo, hi := tube.Bounds()
	mid := lo.Add(hi).Mul(0.5)
	for _, tt := range []struct {
		name  string
		outs  []outline
		area  float64
		tol   float64 // relative
		loops int
	}{
		{"box", cut(box, newPlane(r3.Vector{X: 1, Y: 1, Z: 1}, z, r3.Vector{Y: 1})), 12, 1e-12, 1},
		{"box along a diagonal plane", cut(box, newPlane(r3.Vector{}, r3.Vector{X: 3, Y: -4}, z)), 10, 1e-12, 1},
		{"box at its own top", cut(box, newPlane(r3.Vector{Z: 2}, z, r3.Vector{Y: 1})), 12, 1e-12, 1},
		{"beside the box", cut(box, newPlane(r3.Vector{Z: 3}, z, r3.Vector{Y: 1})), 0, 0, 0},
		{"tube across", cut(tube, newPlane(mid, z, r3.Vector{Y: 1})), polygon(5, 256) - polygon(3, 256), 1e-9, 2},
		// Chords of a level-6 icosphere: 1e-4 of the radius.
		{"ball off the middle", cut(ball, newPlane(r3.Vector{X: 6}, r3.Vector{X: 1}, z)), math.Pi * 64, 1e-3, 1},
	} {
		if got := enclosed(tt.outs); math.Abs(got-tt.area) > tt.tol*tt.area {
			t.Errorf("%s: area %.9f mm2, want %.9f", tt.name, got, tt.area)
		}
		if len(tt.outs) != tt.loops {
			t.Errorf("%s: %d outlines, want %d", tt.name, len(tt.outs), tt.loops)
		}
		for _, o := range tt.outs {
			if !o.closed {
				t.Errorf("%s: open outline", tt.name)
			}
		}
	}
}

func TestCutOfAnOpenMeshIsOpen(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 4, Y: 3, Z: 2})
	m.Facets = m.Facets[:len(m.Facets)-2]
	outs := append(cut(m, newPlane(r3.Vector{X: 1, Y: 1, Z: 1}, r3.Vector{Z: 1}, r3.Vector{Y: 1})),
		cut(m, newPlane(r3.Vector{X: 1, Y: 1, Z: 1}, r3.Vector{Y: 1}, r3.Vector{Z: 1}))...)
	open := 0
	for _, o := range outs {
		if !o.closed {
			open++
		}
	}
	if open == 0 {
		t.Error("all outlines of an open box are closed")
	}
}

// enclosed returns the area inside the outlines, mm2; holes count negative.
func enclosed(outs []outline) float64 {
	s := 0.0
	for _, o := range outs {
		for i := range o.of {
			a, b := o.points[i], o.points[i+1]
			s += a.x*b.y - a.y*b.x
		}
	}
	return s / 2
}
