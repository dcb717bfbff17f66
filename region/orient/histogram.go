package orient

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/golang/geo/s2"

	"skinstock/mesh"
	"skinstock/mesh/sym3"
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
	normal  r3.Vector // unit
	area    float64   // mm2
	treated float64   // mm2 of that which the bath wets
}

// Histogram is the surface of a part by direction of its normal, and the
// vertices that reach out furthest.
type Histogram struct {
	patches []patch
	reach   []r3.Vector // mm
	support []r3.Vector // mm; those of reach that are outermost in some direction of a coarse set
}

// NewHistogram gathers the facets and vertices of m. masked marks facets that
// the bath does not wet; nil for none.
func NewHistogram(m *mesh.Mesh, masked []bool) *Histogram {
	type cell struct {
		sum           r3.Vector
		area, treated float64
	}
	cells := make([]cell, numCells)
	for f := range m.Facets {
		n := m.AreaNormal(f)
		l := n.Norm()
		if l == 0 {
			continue
		}
		c := &cells[cellOf(n)]
		c.sum = c.sum.Add(n)
		c.area += l / 2
		if masked == nil || !masked[f] {
			c.treated += l / 2
		}
	}
	h := &Histogram{}
	for i := range cells {
		if c := &cells[i]; c.area > 0 {
			h.patches = append(h.patches, patch{c.sum.Normalize(), c.area, c.treated})
		}
	}
	h.gatherReach(m)
	h.gatherSupport()
	return h
}

// supportDirs is the number of directions in which the outermost vertex is
// kept for footprints: 8 degrees apart, which a footprint is short by 0.5 %.
const supportDirs = 600

// gatherSupport keeps the vertices that are outermost in some direction.
func (h *Histogram) gatherSupport() {
	kept := make([]bool, len(h.reach))
	for _, d := range Even(supportDirs) {
		best := -1
		for i := range h.reach {
			if best < 0 || h.reach[i].Dot(d) > h.reach[best].Dot(d) {
				best = i
			}
		}
		if best >= 0 && !kept[best] {
			kept[best] = true
			h.support = append(h.support, h.reach[best])
		}
	}
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
	var spread sym3.Matrix
	for v, p := range m.Vertices {
		if used[v] {
			spread.Add(p.Sub(mean), 1)
		}
	}
	values, axes := spread.Eigen()
	for i := range axes {
		axes[i] = axes[i].Mul(1 / math.Sqrt(max(values[i], 1e-12*values[0], math.SmallestNonzeroFloat64)))
	}
	return mean, func(d r3.Vector) r3.Vector {
		return r3.Vector{X: axes[0].Dot(d), Y: axes[1].Dot(d), Z: axes[2].Dot(d)}
	}
}

// Bins is the number of steps of inclination in a tally, 5 degrees each.
const Bins = 18

// Piece is the area of one skin whose normals lie in a range of angles to the
// build direction: 0 flat top, 90 degrees wall, 180 ceiling.
type Piece struct {
	Skin         region.Skin
	Mean, Lo, Hi s1.Angle // area-weighted mean, and the range met
	AreaMM2      float64  // wetted by the bath
}

// Tally is a part seen in one build direction.
type Tally struct {
	AreaMM2  [len(region.Skins)]float64 // by skin, wetted by the bath
	Pieces   []Piece                    // the same by angle, ascending
	DownMM2  [Bins]float64              // facing down, masked faces included, by inclination: 0 to 5 degrees, 5 to 10, ...
	FlatMM2  float64                    // downskin below the critical angle, masked faces included: needs support
	HeightMM float64                    // along the build direction
}

// maxSteps bounds the ranges of angle: 36 steps of 5 degrees, cut by three limits.
const maxSteps = 2*Bins + 3

// limits are the ranges of angle between normal and build direction that a
// tally tells apart, by their cosines; each is of one skin.
type limits struct {
	cos  []float64 // lower end of each range, descending
	skin []region.Skin
	bin  []int  // step of inclination of what faces down, -1 for what faces up
	flat []bool // needs support

	first [512]uint8 // range in which to begin for a cosine
}

// vertTol widens the vertical class as in sorting: planes at the limit are vertical.
const vertTol = 1e-6

func newLimits(vertical, critical s1.Angle) *limits {
	l := &limits{}
	up, down := vertical.Radians()-vertTol, math.Pi-vertical.Radians()+vertTol
	ceiling := math.Pi - critical.Radians()
	ends := []float64{up, down, ceiling}
	for i := 1; i <= 2*Bins; i++ {
		ends = append(ends, float64(i)*math.Pi/(2*Bins))
	}
	slices.Sort(ends)
	low := 0.0
	for _, e := range ends {
		if e <= low || e > math.Pi+1e-12 {
			continue
		}
		mid := (low + e) / 2
		skin := region.Vertical
		switch {
		case mid < up:
			skin = region.Upskin
		case mid > down:
			skin = region.Downskin
		}
		bin := -1
		if mid > math.Pi/2 {
			bin = min(Bins-1, int((math.Pi-mid)/(math.Pi/(2*Bins))))
		}
		c := math.Cos(e)
		if math.Abs(e-math.Pi/2) < 1e-12 {
			c = 0 // what is exactly upright faces neither up nor down
		}
		l.cos, l.skin, l.bin = append(l.cos, c), append(l.skin, skin), append(l.bin, bin)
		l.flat = append(l.flat, skin == region.Downskin && mid > ceiling)
		low = e
	}
	l.cos[len(l.cos)-1] = math.Inf(-1)
	for i := range l.first {
		l.first[i] = uint8(l.find(0, 1-2*float64(i)/float64(len(l.first))))
	}
	return l
}

// find returns the range of cosine c, not before range i.
func (l *limits) find(i int, c float64) int {
	for c < l.cos[i] {
		i++
	}
	return i
}

// of returns the range of cosine c.
func (l *limits) of(c float64) int {
	i := min(max(int((1-c)*float64(len(l.first))/2), 0), len(l.first)-1)
	return l.find(int(l.first[i]), c)
}

// step is what falls in one range.
type step struct{ area, treated, moment, lo, hi float64 } // moment and ends are of the cosine

// tally sorts the patches against direction b.
func (h *Histogram) tally(b r3.Vector, l *limits) Tally {
	var steps [maxSteps]step
	for i := range h.patches {
		p := &h.patches[i]
		c := p.normal.Dot(b)
		s := &steps[l.of(c)]
		if s.area == 0 {
			s.lo, s.hi = c, c
		}
		s.area += p.area
		s.treated += p.treated
		s.moment += p.treated * c
		s.lo, s.hi = min(s.lo, c), max(s.hi, c)
	}
	var t Tally
	for i := range l.cos {
		if s := &steps[i]; s.area > 0 {
			t.add(s, l, i)
		}
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range h.reach {
		d := h.reach[i].Dot(b)
		lo, hi = min(lo, d), max(hi, d)
	}
	t.HeightMM = hi - lo
	return t
}

// add enters range i.
func (t *Tally) add(s *step, l *limits, i int) {
	if s.treated > 0 {
		t.AreaMM2[l.skin[i]] += s.treated
		t.Pieces = append(t.Pieces, Piece{
			Skin: l.skin[i], AreaMM2: s.treated, Mean: angleOf(s.moment / s.treated), Lo: angleOf(s.hi), Hi: angleOf(s.lo),
		})
	}
	if l.bin[i] >= 0 {
		t.DownMM2[l.bin[i]] += s.area
	}
	if l.flat[i] {
		t.FlatMM2 += s.area
	}
}

func angleOf(c float64) s1.Angle { return s1.Angle(math.Acos(min(max(c, -1), 1))) }
