package arrange

import (
	"math"

	"github.com/golang/geo/r3"
)

// query is a facet as a tree is asked about it. The box of a long facet that
// lies aslant holds much that the facet is far from: a box that a plane along
// the facet's longest side parts from it is passed over.
type query struct {
	box
	along  r3.Vector     // unit, the longest side
	spread [3][2]float64 // least and greatest of the corners across along and the axes x, y and z
}

// querySlack covers the rounding of products of coordinates, as a share of the largest one.
const querySlack = 1e-12

func (t *tree) query(f int32) *query {
	p := &query{box: t.s.box(f)}
	var c triangle
	c[0], c[1], c[2] = t.s.corners(f)
	var most float64
	for k := range 3 {
		e := c[(k+1)%3].Sub(c[k])
		if l := e.Norm2(); l > most {
			most, p.along = l, e
		}
	}
	p.along = p.along.Normalize()
	var largest float64
	for _, x := range t.nodes[0] {
		largest = max(largest, math.Abs(float64(x)))
	}
	for k := range 3 {
		p.spread[k] = [2]float64{math.Inf(1), math.Inf(-1)}
	}
	for _, v := range c {
		x := p.across(v)
		for k := range 3 {
			p.spread[k] = [2]float64{min(p.spread[k][0], x[k]), max(p.spread[k][1], x[k])}
		}
	}
	for k := range 3 {
		p.spread[k][0] -= querySlack * largest
		p.spread[k][1] += querySlack * largest
	}
	return p
}

// across returns the products of v with the cross products of the long side and the axes.
func (p *query) across(v r3.Vector) [3]float64 {
	a := p.along
	return [3]float64{v.Y*a.Z - v.Z*a.Y, v.Z*a.X - v.X*a.Z, v.X*a.Y - v.Y*a.X}
}

// meets tells whether b may have a point in common with the facet; false is certain.
func (p *query) meets(b *box) bool {
	if !p.box.meets(b) {
		return false
	}
	mid := r3.Vector{X: float64(b[0]) + float64(b[3]), Y: float64(b[1]) + float64(b[4]), Z: float64(b[2]) + float64(b[5])}
	x := p.across(mid.Mul(0.5))
	hx, hy, hz := 0.5*(float64(b[3])-float64(b[0])), 0.5*(float64(b[4])-float64(b[1])), 0.5*(float64(b[5])-float64(b[2]))
	ax, ay, az := math.Abs(p.along.X), math.Abs(p.along.Y), math.Abs(p.along.Z)
	for k, r := range [3]float64{hy*az + hz*ay, hz*ax + hx*az, hx*ay + hy*ax} {
		if x[k]-r > p.spread[k][1] || x[k]+r < p.spread[k][0] {
			return false
		}
	}
	return true
}
