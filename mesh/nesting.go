package mesh

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// nesting returns for every shell the closed shells that it lies inside, ascending.
//
// A shell lies inside another when its box does and when all its sample points
// do. The samples are the centroids of its largest facet and of the facets at
// its six outermost vertices, so that a shell which only crosses another is
// told apart. From each sample a ray runs up along z, and the facets of the
// other shells that it passes are counted with their sign: the winding number.
// The rays are kept in a grid over x and y and every facet is laid over the
// grid once, so the work is that of the facets and of the ray hits.
func (m *Mesh) nesting(shells []Shell, label []int32) [][]int32 {
	inside := make([][]int32, len(shells))
	closed := 0
	for s := range shells {
		if shells[s].Closed {
			closed++
		}
	}
	if closed < 2 {
		return inside
	}
	rays := m.nestingRays(shells)
	hits := m.castUp(rays, shells, label)
	slices.SortFunc(hits, func(a, b rayHit) int {
		switch {
		case rays.shell[a.ray] != rays.shell[b.ray]:
			return int(rays.shell[a.ray]) - int(rays.shell[b.ray])
		case a.shell != b.shell:
			return int(a.shell) - int(b.shell)
		case a.ray != b.ray:
			return int(a.ray) - int(b.ray)
		}
		return int(a.sign) - int(b.sign)
	})
	for i := 0; i < len(hits); {
		q, s := rays.shell[hits[i].ray], hits[i].shell
		in, unsure := 0, 0
		for i < len(hits) && rays.shell[hits[i].ray] == q && hits[i].shell == s {
			winding, onIt, ray := 0, false, hits[i].ray
			for ; i < len(hits) && hits[i].ray == ray && hits[i].shell == s; i++ {
				winding += int(hits[i].sign)
				onIt = onIt || hits[i].sign == 0
			}
			switch {
			case onIt:
				unsure++
			case winding != 0:
				in++
			}
		}
		if in > 0 && in+unsure == rays.perShell[q] {
			inside[q] = append(inside[q], s)
		}
	}
	return inside
}

// nestRays are the sample points of the shells, gathered in the cells of a grid over x and y.
type nestRays struct {
	at       []r3.Vector
	shell    []int32
	perShell []int

	lo           r3.Vector
	perX, perY   float64 // cells per mm
	nx, ny       int
	start, cells []int32 // rays of cell c: cells[start[c]:start[c+1]]
	eps          float64 // mm, distance below which a sample counts as on a facet
}

// nestingRays takes the samples of all closed shells.
func (m *Mesh) nestingRays(shells []Shell) *nestRays {
	r := &nestRays{perShell: make([]int, len(shells)), lo: far}
	hi := far.Mul(-1)
	for s := range shells {
		if !shells[s].Closed {
			continue
		}
		for _, f := range m.sampleFacets(shells[s].Facets) {
			p := m.Centroid(int(f))
			r.at = append(r.at, p)
			r.shell = append(r.shell, int32(s))
			r.perShell[s]++
			r.lo, hi = lower(r.lo, p), upper(hi, p)
		}
	}
	// A float32 coordinate is off by 2^-24 of its size at most; four times
	// that covers a point and a facet of three corners.
	r.eps = 2 * m.rounding()

	side := int(math.Ceil(math.Sqrt(float64(len(r.at)))))
	r.nx, r.ny = side, side
	r.perX, r.perY = perUnit(hi.X-r.lo.X, side), perUnit(hi.Y-r.lo.Y, side)
	r.start = make([]int32, r.nx*r.ny+2)
	for _, p := range r.at {
		r.start[r.cell(p)+2]++
	}
	for i := 3; i < len(r.start); i++ {
		r.start[i] += r.start[i-1]
	}
	r.cells = make([]int32, len(r.at))
	for i, p := range r.at {
		c := r.cell(p) + 1
		r.cells[r.start[c]] = int32(i)
		r.start[c]++
	}
	return r
}

func perUnit(width float64, cells int) float64 {
	if width > 0 {
		return float64(cells) / width
	}
	return 0
}

func (r *nestRays) col(x float64) int {
	return int(max(-1, min(float64(r.nx), math.Floor((x-r.lo.X)*r.perX))))
}

func (r *nestRays) row(y float64) int {
	return int(max(-1, min(float64(r.ny), math.Floor((y-r.lo.Y)*r.perY))))
}

func (r *nestRays) cell(p r3.Vector) int {
	return min(r.row(p.Y), r.ny-1)*r.nx + min(r.col(p.X), r.nx-1)
}

// sampleFacets returns the largest facet and one at each of the six outermost
// vertices, without repeats.
func (m *Mesh) sampleFacets(facets []int32) []int32 {
	best := [7]float64{}
	for i := range best {
		best[i] = math.Inf(-1)
	}
	var pick [7]int32
	for _, f := range facets {
		p, q, r := m.Triangle(int(f))
		lo, hi := lower(p, lower(q, r)), upper(p, upper(q, r))
		for i, x := range [7]float64{q.Sub(p).Cross(r.Sub(p)).Norm2(), -lo.X, -lo.Y, -lo.Z, hi.X, hi.Y, hi.Z} {
			if x > best[i] {
				best[i], pick[i] = x, f
			}
		}
	}
	slices.Sort(pick[:])
	return slices.Compact(pick[:])
}

// rayHit says that a ray passes the surface of a shell: outwards +1, inwards
// -1, 0 when the ray starts on it.
type rayHit struct {
	ray, shell int32
	sign       int8
}

// castUp returns the hits of all rays with the closed shells that could hold them.
func (m *Mesh) castUp(r *nestRays, shells []Shell, label []int32) []rayHit {
	parts := make([][]rayHit, (len(label)+Chunk-1)/Chunk)
	InChunks(len(label), 0, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			if s := label[f]; shells[s].Closed {
				parts[lo/Chunk] = m.castAt(parts[lo/Chunk], r, shells, f, s)
			}
		}
	})
	return slices.Concat(parts...)
}

// castAt appends the hits of facet f, which is one of shell s.
func (m *Mesh) castAt(hits []rayHit, r *nestRays, shells []Shell, f int, s int32) []rayHit {
	a, b, c := m.Triangle(f)
	y0, y1 := min(a.Y, b.Y, c.Y), max(a.Y, b.Y, c.Y)
	for j, last := max(0, r.row(y0)), min(r.ny-1, r.row(y1)); j <= last; j++ {
		x0, x1 := r.span(a, b, c, j)
		if x0 > x1 {
			continue
		}
		for i, last := max(0, r.col(x0-r.eps)), min(r.nx-1, r.col(x1+r.eps)); i <= last; i++ {
			cell := j*r.nx + i
			for _, q := range r.cells[r.start[cell]:r.start[cell+1]] {
				if h := m.passUp(r, shells, q, s, a, b, c); h.ray != None {
					hits = append(hits, h)
				}
			}
		}
	}
	return hits
}

// span returns the extent in x of a triangle within row j and its neighbours,
// which is more than in row j alone. Columns and rows never decrease with x and
// y, rounding included, so the cells between those of the ends hold every ray
// in the shadow of the triangle.
func (r *nestRays) span(a, b, c r3.Vector, j int) (x0, x1 float64) {
	x0, x1 = math.Inf(1), math.Inf(-1)
	lo, hi := math.Inf(-1), math.Inf(1)
	if r.row(min(a.Y, b.Y, c.Y)) == r.row(max(a.Y, b.Y, c.Y)) {
		return min(a.X, b.X, c.X), max(a.X, b.X, c.X)
	}
	if r.perY > 0 {
		lo, hi = r.lo.Y+float64(j-1)/r.perY, r.lo.Y+float64(j+2)/r.perY
	}
	for _, e := range [3][2]r3.Vector{{a, b}, {b, c}, {c, a}} {
		p, q := e[0], e[1]
		if p.Y > q.Y {
			p, q = q, p
		}
		if q.Y < lo || p.Y > hi {
			continue
		}
		s, t := p.X, q.X
		if p.Y < lo {
			s = p.X + (q.X-p.X)*((lo-p.Y)/(q.Y-p.Y))
		}
		if q.Y > hi {
			t = p.X + (q.X-p.X)*((hi-p.Y)/(q.Y-p.Y))
		}
		x0, x1 = min(x0, s, t), max(x1, s, t)
	}
	return x0, x1
}

// passUp tells whether ray q passes the facet a, b, c of shell s.
func (m *Mesh) passUp(r *nestRays, shells []Shell, q, s int32, a, b, c r3.Vector) rayHit {
	miss := rayHit{ray: None}
	p, own := r.at[q], r.shell[q]
	if own == s || !holdsBox(&shells[s], &shells[own]) {
		return miss
	}
	if p.Z > max(a.Z, b.Z, c.Z)+r.eps || !inShadow(p, a, b, c) {
		return miss
	}
	n := b.Sub(a).Cross(c.Sub(a)).Normalize()
	sign := int8(1)
	if n.Z < 0 {
		sign = -1
	}
	d := n.Dot(a.Sub(p)) * float64(sign) // positive when the facet's plane is above p
	switch {
	case math.Abs(d) <= r.eps && p.Z >= min(a.Z, b.Z, c.Z)-r.eps:
		return rayHit{q, s, 0}
	case p.Z < min(a.Z, b.Z, c.Z) || d > 0:
		return rayHit{q, s, sign}
	}
	return miss
}

// holdsBox tells whether the box of outer holds the box of inner.
func holdsBox(outer, inner *Shell) bool {
	return outer.Lo.X <= inner.Lo.X && outer.Lo.Y <= inner.Lo.Y && outer.Lo.Z <= inner.Lo.Z &&
		outer.Hi.X >= inner.Hi.X && outer.Hi.Y >= inner.Hi.Y && outer.Hi.Z >= inner.Hi.Z
}

// inShadow tells whether p lies in the triangle, both seen along z. Along an
// edge of two facets exactly one of them has the point, because each edge is
// judged from its lower end whatever the facet, and ends are half open.
func inShadow(p, a, b, c r3.Vector) bool {
	in := false
	for _, e := range [3][2]r3.Vector{{a, b}, {b, c}, {c, a}} {
		u, v := e[0], e[1]
		if u.Y > v.Y || u.Y == v.Y && u.X > v.X {
			u, v = v, u
		}
		if (u.Y > p.Y) == (v.Y > p.Y) {
			continue
		}
		if float64((v.X-u.X)*(p.Y-u.Y))-float64((v.Y-u.Y)*(p.X-u.X)) > 0 {
			in = !in
		}
	}
	return in
}
