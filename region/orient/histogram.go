package orient

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/golang/geo/s2"
	"gonum.org/v1/gonum/mat"

	"skinstock/mesh"
	"skinstock/region"
)

// level is the depth of the cells that normals are gathered in: 24,576 cells
// about 1.3 degrees wide. Each keeps the area-weighted mean of its normals, so
// plane faces keep their exact inclination.
const level = 6

// numCells is the number of cells on the sphere.
const numCells = 6 << (2 * level)

// cellOf returns the number of the cell that direction d points into.
func cellOf(d r3.Vector) int {
	id := s2.CellFromPoint(s2.Point{Vector: d}).ID()
	return int(uint64(id) >> (2*(30-level) + 1))
}

// patch is the facets whose normals fall in one cell.
type patch struct {
	normal r3.Vector // unit
	area   float64   // mm2
}

// Histogram is the surface of a part by direction of its normal, and the
// vertices that reach out furthest.
type Histogram struct {
	patches []patch
	reach   []r3.Vector // mm
}

// NewHistogram gathers the facets and vertices of m.
func NewHistogram(m *mesh.Mesh) *Histogram {
	sum, area := make([]r3.Vector, numCells), make([]float64, numCells)
	for f := range m.Facets {
		n := m.AreaNormal(f)
		l := n.Norm()
		if l == 0 {
			continue
		}
		c := cellOf(n)
		sum[c] = sum[c].Add(n)
		area[c] += l / 2
	}
	h := &Histogram{}
	for c, a := range area {
		if a > 0 {
			h.patches = append(h.patches, patch{sum[c].Normalize(), a})
		}
	}
	h.gatherReach(m)
	return h
}

// gatherReach keeps the vertex of each cell that lies furthest from the middle,
// once the part is stretched to be about as wide every way: so a thin plate
// keeps both its faces. A vertex left out is lower in any direction than one
// kept by at most the width of a cell, some 3 % of the stretched reach.
func (h *Histogram) gatherReach(m *mesh.Mesh) {
	used := make([]bool, len(m.Vertices))
	for _, t := range m.Facets {
		used[t[0]], used[t[1]], used[t[2]] = true, true, true
	}
	middle, stretch := stretched(m, used)
	far, at := make([]float64, numCells), make([]int32, numCells)
	for v, p := range m.Vertices {
		if !used[v] {
			continue
		}
		d := stretch(p.Sub(middle))
		l := d.Norm2()
		if l == 0 {
			continue
		}
		if c := cellOf(d); l > far[c] {
			far[c], at[c] = l, int32(v)
		}
	}
	for c, l := range far {
		if l > 0 {
			h.reach = append(h.reach, m.Vertices[at[c]])
		}
	}
}

// stretched returns the mean of the vertices and a map under which they spread
// alike every way.
func stretched(m *mesh.Mesh, used []bool) (r3.Vector, func(r3.Vector) r3.Vector) {
	var mean r3.Vector
	n := 0.0
	for v, p := range m.Vertices {
		if used[v] {
			mean = mean.Add(p)
			n++
		}
	}
	mean = mean.Mul(1 / max(n, 1))
	var xx, xy, xz, yy, yz, zz float64
	for v, p := range m.Vertices {
		if used[v] {
			d := p.Sub(mean)
			xx, xy, xz = xx+d.X*d.X, xy+d.X*d.Y, xz+d.X*d.Z
			yy, yz, zz = yy+d.Y*d.Y, yz+d.Y*d.Z, zz+d.Z*d.Z
		}
	}
	var e mat.EigenSym
	if !e.Factorize(mat.NewSymDense(3, []float64{xx, xy, xz, xy, yy, yz, xz, yz, zz}), true) {
		return mean, func(d r3.Vector) r3.Vector { return d }
	}
	var q mat.Dense
	e.VectorsTo(&q)
	values := e.Values(nil)
	var axes [3]r3.Vector
	for i := range axes {
		k := 1 / math.Sqrt(max(values[i], 1e-12*values[2], math.SmallestNonzeroFloat64))
		axes[i] = r3.Vector{X: q.At(0, i), Y: q.At(1, i), Z: q.At(2, i)}.Mul(k)
	}
	return mean, func(d r3.Vector) r3.Vector {
		return r3.Vector{X: axes[0].Dot(d), Y: axes[1].Dot(d), Z: axes[2].Dot(d)}
	}
}

// Bins is the number of steps of inclination in a tally, 5 degrees each.
const Bins = 18

// Tally is a part seen in one build direction.
type Tally struct {
	AreaMM2  [len(region.Skins)]float64 // by skin
	DownMM2  [Bins]float64              // facing down, by inclination: 0 to 5 degrees, 5 to 10, ...
	FlatMM2  float64                    // downskin below the critical angle: needs support
	HeightMM float64                    // along the build direction
}

// binOf returns the step of inclination theta.
func binOf(theta s1.Angle) int { return min(Bins-1, int(theta.Degrees()/(90.0/Bins))) }

// limits are the angles of a tally with their cosines.
type limits struct {
	vertical, critical       s1.Angle
	cosVertical, cosCritical float64
	cosBin                   [Bins]float64 // of the upper end of each step
}

func newLimits(vertical, critical s1.Angle) limits {
	// A millionth of a radian, as in sorting: planes at the limit are vertical.
	l := limits{vertical: vertical, critical: critical, cosVertical: math.Cos(vertical.Radians() - 1e-6), cosCritical: math.Cos(critical.Radians())}
	for i := range l.cosBin {
		l.cosBin[i] = math.Cos(float64(i+1) * math.Pi / 2 / Bins)
	}
	return l
}

// Tally sorts the patches against direction b.
func (h *Histogram) tally(b r3.Vector, l *limits) Tally {
	var t Tally
	for i := range h.patches {
		p := &h.patches[i]
		t.add(p.normal.Dot(b), p.area, l)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range h.reach {
		d := h.reach[i].Dot(b)
		lo, hi = min(lo, d), max(hi, d)
	}
	t.HeightMM = hi - lo
	return t
}

// add files an area whose normal makes the cosine c with the build direction.
func (t *Tally) add(c, area float64, l *limits) {
	a := math.Abs(c)
	switch {
	case a <= l.cosVertical || c == 0:
		t.AreaMM2[region.Vertical] += area
	case c > 0:
		t.AreaMM2[region.Upskin] += area
	default:
		t.AreaMM2[region.Downskin] += area
		if a > l.cosCritical {
			t.FlatMM2 += area
		}
	}
	if c < 0 {
		bin := 0
		for bin < Bins-1 && a < l.cosBin[bin] {
			bin++
		}
		t.DownMM2[bin] += area
	}
}
