package loop

import (
	"math"
	"sort"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

const (
	// sharpFrom is the turn from which an edge is sharp.
	sharpFrom = 40 * s1.Degree

	// roundFrom is the turn from which an edge that juts out has a radius: a bluntly bevelled
	// one, as voxel meshers leave them, loses next to nothing beyond its faces.
	roundFrom = 60 * s1.Degree
)

// judge measures finished surfaces against nominal.
type judge struct {
	m      *mesh.Mesh
	tree   *bvh.Tree
	around *mesh.Incidence
	dry    []bool // insulated facets: not judged; nil for none
	beside []bool // facets within reach of a sharp edge
	edges  []edge // those that jut out with a turn of roundFrom and more
}

// edge is a sharp edge between two vertices.
type edge struct {
	ends   [2]int32
	out    r3.Vector // unit, on the bisector
	half   float64   // sine of half the metal's angle
	length float64   // mm
	faces  [2]int32  // facets of the faces that meet here, besideAt removals away
}

// besideAt is where the faces of an edge are looked at, in removals: beyond what a round edge takes.
const besideAt = 2

// newJudge marks what lies within three removals of sharp edges.
func newJudge(m *mesh.Mesh, removal float64, workers int) *judge {
	j := &judge{m: m, tree: bvh.New(m, workers), around: m.Incidence(), beside: make([]bool, len(m.Facets))}
	t := m.Topology()
	cos, cosJut := math.Cos(sharpFrom.Radians()), math.Cos(roundFrom.Radians())
	edges := &mesh.Mesh{Vertices: m.Vertices}
	for h, g := range t.Twin {
		if g < int32(h) {
			continue
		}
		a, b := m.FacetNormal(h/3), m.FacetNormal(int(g/3))
		c := a.Dot(b)
		if a == (r3.Vector{}) || b == (r3.Vector{}) || c >= cos {
			continue
		}
		o, e := m.Origin(int32(h)), m.Target(int32(h))
		edges.Facets = append(edges.Facets, [3]int32{o, e, e})
		if c < cosJut && m.Vertices[m.Origin(mesh.Prev(g))].Sub(m.Vertices[o]).Dot(a) < 0 {
			along := m.Vertices[e].Sub(m.Vertices[o])
			mid := m.Vertices[o].Add(along.Mul(0.5))
			j.edges = append(j.edges, edge{
				ends: [2]int32{o, e}, out: a.Add(b).Normalize(), half: math.Sqrt((1 + c) / 2), length: along.Norm(),
				faces: [2]int32{j.face(int32(h/3), mid, along, removal), j.face(g/3, mid, along.Mul(-1), removal)},
			})
		}
	}
	if len(edges.Facets) == 0 {
		return j
	}
	et := bvh.New(edges, workers)
	for f := range j.beside {
		a, b, c := m.Triangle(f)
		_, j.beside[f] = et.ClosestWithin(a.Add(b).Add(c).Mul(1./3), 3*removal, bvh.NoHint)
	}
	return j
}

// judge returns the deviation of a prediction's finished surface, its size per facet, mm,
// positive where metal is left, and how far each facet lies above its own plane.
func (j *judge) judge(t *attempt) (d Deviation, size, above []float64) {
	fin := t.finished
	size, above = make([]float64, len(fin.Facets)), make([]float64, len(fin.Facets))
	var away, near []weighted
	var squares, area float64
	hint := bvh.NoHint
	for f := range size {
		if j.dry != nil && j.dry[f] {
			continue
		}
		p := fin.Centroid(f)
		// The size is the distance to nominal, or to this facet's own plane when that is nearer: moved
		// along an inner corner, a facet is not out of place.
		h := j.tree.Closest(p, hint)
		hint = h.Facet
		n := j.m.FacetNormal(f)
		x, _, _ := j.m.Triangle(f)
		above[f] = p.Sub(x).Dot(n)
		s := math.Min(h.Dist, math.Abs(above[f]))
		if n == (r3.Vector{}) {
			above[f], s = 0, h.Dist
		}
		size[f] = math.Copysign(s, above[f])
		w := weighted{s, j.m.FacetArea(f)}
		if j.beside[f] {
			near = append(near, w)
			continue
		}
		away = append(away, w)
		squares += w.area * s * s
		area += w.area
	}
	if area > 0 {
		d.RMS = math.Sqrt(squares / area)
	}
	d.P95, d.Max = quantile(away, 0.95)
	d.EdgeP95, d.EdgeMax = quantile(near, 0.95)
	d.EdgeRadius, d.EdgeRadiusP95 = j.radii(t, above)
	return d, size, above
}

// face returns the facet that lies besideAt removals inside the face of facet f
// from its edge, whose middle and direction are given, or less where the face ends before.
func (j *judge) face(f int32, mid, along r3.Vector, removal float64) int32 {
	n := j.m.FacetNormal(int(f))
	in := n.Cross(along).Normalize()
	for far := besideAt * removal; far > removal/8; far /= 2 {
		h := j.tree.Closest(mid.Add(in.Mul(far)), int(f))
		if h.Dist < far/4 && j.m.FacetNormal(h.Facet).Dot(n) > math.Cos(sharpFrom.Radians()) {
			return int32(h.Facet)
		}
	}
	return f
}

// cornerStrip is the width in mm of the strip whose mean flux takes a square edge back. By plane
// baths run in small steps it is 1.56 removals without polarisation, 1.46 with a length of one removal
// and 0.9 with one of twenty, where the flux hardly changes over it.
func cornerStrip(removal, length float64) float64 {
	return removal * (0.9 + 0.6/(1+length/(5*removal)))
}

// radii turns what the edges lose beyond their faces, which above gives per facet,
// into the radius of a round edge that ends there: r (1/sin(half angle) - 1) is a round
// edge's loss along the bisector. It returns the middle over the length of the
// edges, and what 95 % of it stays below.
func (j *judge) radii(t *attempt, above []float64) (middle, p95 float64) {
	var rs []weighted
	for _, e := range j.edges {
		if j.dry != nil && (j.dry[e.faces[0]] || j.dry[e.faces[1]]) {
			continue
		}
		var stands float64 // of the edge over nominal, along the bisector
		for _, v := range e.ends {
			stands += t.finished.Vertices[v].Sub(j.m.Vertices[v]).Dot(e.out) / 2
		}
		meet := (above[e.faces[0]] + above[e.faces[1]]) / (2 * e.half) // where the faces do, as they are finished
		rs = append(rs, weighted{math.Max(0, meet-stands) / (1/e.half - 1), e.length})
	}
	middle, _ = quantile(rs, 0.5)
	p95, _ = quantile(rs, 0.95)
	return middle, p95
}

// Away sums up the predicted finish over a choice of facets, those beside sharp
// edges left out; lengths in mm.
type Away struct {
	AreaMM2   float64 // of the choice without what lies beside edges
	BesideMM2 float64 // what lies beside edges
	Mean      float64 // signed, positive where metal is left
	P95, Max  float64 // of the size
}

// Over sums the predicted finish up over the facets that in picks, and what the
// same stock everywhere would have left there.
func (r *Result) Over(in func(f int) bool) (predicted, uniform Away) {
	sum := func(size []float64) Away {
		var a Away
		var ws []weighted
		for f, e := range size {
			area := r.Nominal.FacetArea(f)
			switch {
			case !in(f) || r.Dry != nil && r.Dry[f]:
			case r.Beside[f]:
				a.BesideMM2 += area
			default:
				ws = append(ws, weighted{math.Abs(e), area})
				a.AreaMM2 += area
				a.Mean += e * area
			}
		}
		if a.AreaMM2 > 0 {
			a.Mean /= a.AreaMM2
		}
		a.P95, a.Max = quantile(ws, 0.95)
		return a
	}
	return sum(r.Signed), sum(r.UniformSigned)
}

// weighted is a size and the area or length that has it.
type weighted struct{ size, area float64 }

// quantile returns the size that the share of the area stays below, and the largest.
func quantile(ws []weighted, share float64) (at, most float64) {
	if len(ws) == 0 {
		return 0, 0
	}
	sort.Slice(ws, func(i, k int) bool {
		return ws[i].size < ws[k].size || ws[i].size == ws[k].size && ws[i].area < ws[k].area
	})
	var whole, sum float64
	for _, w := range ws {
		whole += w.area
	}
	at = ws[len(ws)-1].size
	for _, w := range ws {
		if sum += w.area; sum >= share*whole {
			at = w.size
			break
		}
	}
	return at, ws[len(ws)-1].size
}
