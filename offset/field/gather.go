package field

import (
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/queue"
)

// Limits of what is gathered to one panel.
const (
	turnLimit   = 40 // degrees between a facet, or a small patch, and the patch it joins
	wideFrom    = 0.65
	mergeBelow  = 0.3 // a panel with less than this share of the wanted area joins a neighbour
	mergedLimit = 1.6
	crumbBelow  = 0.1
)

// gather groups the facets of c to patches of about the wanted size: patch
// numbers per facet, in order of their first facets, and their count. Patches
// do not reach across sharp turns.
func (c *cut) gather() ([]int32, int) {
	t := c.Topology()
	g := &gatherer{c: c, t: t, patch: make([]int32, len(c.Facets))}
	g.normal = make([]r3.Vector, len(c.Facets))
	g.area = make([]float64, len(c.Facets))
	g.middle = make([]r3.Vector, len(c.Facets))
	for f := range c.Facets {
		g.patch[f] = mesh.None
		g.normal[f], g.area[f] = c.FacetNormal(f), c.FacetArea(f)
		g.middle[f] = c.Centroid(f)
	}
	for f := range c.Facets {
		if g.patch[f] == mesh.None && g.area[f] > 0 {
			g.grow(int32(f))
		}
	}
	g.adopt()
	g.merge()
	return g.number()
}

type gatherer struct {
	c      *cut
	t      *mesh.Topology
	patch  []int32
	normal []r3.Vector
	area   []float64
	middle []r3.Vector
	sum    []float64   // area by patch
	want   []float64   // wanted area by patch
	mean   []r3.Vector // area vector by patch
}

// size is the wanted panel size at a facet.
func (g *gatherer) size(f int32) float64 {
	t := g.c.Facets[f]
	return (g.c.size[t[0]] + g.c.size[t[1]] + g.c.size[t[2]]) / 3
}

// grow gathers facets around the first, nearest first, until the area is reached.
func (g *gatherer) grow(first int32) {
	id := int32(len(g.sum))
	h := g.size(first)
	want := fullPanel * h * h
	cos := math.Cos(turnLimit * math.Pi / 180)
	var area float64
	var mean r3.Vector
	q := queue.Least{{Number: first}}
	for len(q) > 0 && area < want {
		f := q.Pop().Number
		if g.patch[f] != mesh.None || area > 0 && area+g.area[f] > mergedLimit*want {
			continue
		}
		g.patch[f] = id
		area += g.area[f]
		mean = mean.Add(g.normal[f].Mul(g.area[f]))
		for k := range int32(3) {
			o := g.t.Twin[3*f+k] / 3
			d := g.middle[o].Sub(g.middle[first]).Norm()
			if g.patch[o] == mesh.None && d < wideFrom*h && g.alike(o, mean, cos) && g.c.insulated(o) == g.c.insulated(first) {
				q.Push(d, o)
			}
		}
	}
	g.sum, g.want, g.mean = append(g.sum, area), append(g.want, want), append(g.mean, mean)
}

// alike tells whether facet f may join a patch of area vector mean: a facet of no area may join any.
func (g *gatherer) alike(f int32, mean r3.Vector, cos float64) bool {
	return g.area[f] == 0 || g.normal[f].Dot(mean) >= cos*mean.Norm()
}

// adopt gives facets of no area that are left over to a neighbour.
func (g *gatherer) adopt() {
	for again := true; again; {
		again = false
		for f := range g.patch {
			for k := 0; k < 3 && g.patch[f] == mesh.None; k++ {
				if o := g.patch[g.t.Twin[3*f+k]/3]; o != mesh.None {
					g.patch[f], again = o, true
				}
			}
		}
	}
}

// merge joins patches that came out too small to the neighbour with the longest shared border.
func (g *gatherer) merge() {
	members := make([][]int32, len(g.sum))
	for f, p := range g.patch {
		if p != mesh.None {
			members[p] = append(members[p], int32(f))
		}
	}
	cos := math.Cos(turnLimit * math.Pi / 180)
	for p := range g.sum {
		if g.sum[p] >= mergeBelow*g.want[p] {
			continue
		}
		type border struct {
			patch  int32
			length float64
		}
		var bs []border
		for _, f := range members[p] {
			for k := range int32(3) {
				o := g.patch[g.t.Twin[3*f+k]/3]
				if o == int32(p) || o == mesh.None || g.c.insulated(f) != g.c.insulated(g.t.Twin[3*f+k]/3) {
					continue
				}
				l := g.c.Vertices[g.c.Origin(3*f+k)].Sub(g.c.Vertices[g.c.Target(3*f+k)]).Norm()
				i := 0
				for i < len(bs) && bs[i].patch != o {
					i++
				}
				if i == len(bs) {
					bs = append(bs, border{patch: o})
				}
				bs[i].length += l
			}
		}
		best := mesh.None
		var length float64
		for _, b := range bs {
			crumb := g.sum[p] < crumbBelow*g.want[p] // slivers, whose normals say nothing
			if b.length > length && (crumb || g.sum[b.patch]+g.sum[p] < mergedLimit*g.want[b.patch] &&
				g.mean[p].Dot(g.mean[b.patch]) >= cos*g.mean[p].Norm()*g.mean[b.patch].Norm()) {
				best, length = b.patch, b.length
			}
		}
		if best == mesh.None {
			continue
		}
		for _, f := range members[p] {
			g.patch[f] = best
		}
		members[best] = append(members[best], members[p]...)
		members[p] = nil
		g.sum[best] += g.sum[p]
		g.mean[best] = g.mean[best].Add(g.mean[p])
		g.sum[p] = 0
	}
}

// number counts the patches in order of their first facets.
func (g *gatherer) number() ([]int32, int) {
	id := make([]int32, len(g.sum))
	for i := range id {
		id[i] = mesh.None
	}
	n := 0
	out := make([]int32, len(g.patch))
	for f, p := range g.patch {
		out[f] = mesh.None
		if p == mesh.None {
			continue
		}
		if id[p] == mesh.None {
			id[p] = int32(n)
			n++
		}
		out[f] = id[p]
	}
	return out, n
}
