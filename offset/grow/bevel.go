package grow

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

const (
	// blunt is the longest move of a part of a split vertex, in allowances, where
	// that can be had, else it is the mitre limit: three planes at right angles need 1.73.
	blunt = 2.0

	// bevelStarts bounds the tries where to begin to divide a fan of facets.
	bevelStarts = 24

	// holdSteps is in how many steps a facet is looked at on its way out.
	holdSteps = 64

	// along is the sine between a facet and the move of its corner below which it slides in its plane.
	along = 1e-6

	// foldBelow is the length of the sum of two unit normals below which they are
	// back to back, and their sum is no direction.
	foldBelow = 0.1
)

// Surface is a grown surface whose facets are not the nominal ones alone.
//
// Vertices that no single move serves were split: each part moves for some of
// the facets around it, and new facets close the gaps between the parts, as a
// chamfer does. Vertices closer together than their moves differ became one
// where facets would have turned over, and the facets between them are gone.
// What turned over all the same is held back: see hold.
type Surface struct {
	Vertices  []r3.Vector // mm: the nominal vertices in their order, some without facets, then the further parts of split ones
	Facets    [][3]int32  // each nominal facet that is left, followed by the new ones beside it
	NominalOf []int32     // nominal facet that each facet is, or lies beside; ascending
	Added     []bool      // the facet is a new one
	Corners   [][3]int32  // per nominal facet: the vertices that its corners became
	Split     int         // how many vertices were split
	Gone      int         // how many nominal facets are gone
	Held      int         // how many nominal facets were held back
	HeldFrom  int32       // the vertices from this number on are corners of those
}

// arc is a run of facets around a vertex that move it together.
type arc struct {
	from, n int // facets of the fan
	move    r3.Vector
}

// bevel splits the needles of r that can be split, on a surface with merged vertices.
func (g *grower) bevel(ctx context.Context, r *Result, m *merger) error {
	var b *Surface
	if m.merged() {
		b = &Surface{Vertices: m.vertices, Corners: m.facets}
	}
	var split []int32
	for i := range r.Needles {
		n := &r.Needles[i]
		if n.Kept {
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		fans := g.fans(n.Vertex)
		var arcs [][]arc
		parts := 0
		for _, f := range fans {
			a := g.divide(f, r.Allowance)
			arcs = append(arcs, a)
			parts += len(a)
		}
		if parts < 2 {
			continue
		}
		if b == nil {
			b = &Surface{Vertices: append([]r3.Vector(nil), r.Vertices...), Corners: append([][3]int32(nil), g.m.Facets...)}
		}
		b.Split++
		split = append(split, n.Vertex)
		n.Split = true
		first := true
		for i, fan := range fans {
			for _, a := range arcs[i] {
				at := n.Vertex
				if !first {
					at = int32(len(b.Vertices))
					b.Vertices = append(b.Vertices, r3.Vector{})
				}
				first = false
				b.Vertices[at] = n.At.Add(a.move)
				for j := range a.n {
					c := fan[(a.from+j)%len(fan)]
					b.Corners[c/3][c%3] = at
				}
			}
		}
	}
	if b, split = g.hold(r, b, split, m.near); b != nil {
		g.close(b, split)
		r.Surface = b
	}
	return nil
}

// hold leaves facets at their nominal places that would sweep backwards, with
// walls up to their neighbours.
//
// Growing sweeps facets over places, each of which counts one more body of
// metal when a facet passes it outwards and one less when it passes inwards, as a
// facet that turned over does. Metal is where the count is positive: as long as
// no facet passes inwards, all that any facet passed over stays metal. near marks
// the facets at crossings; elsewhere the surface is as good as it stands.
func (g *grower) hold(r *Result, b *Surface, split []int32, near []bool) (*Surface, []int32) {
	corners, vertices := g.m.Facets, r.Vertices
	if b != nil {
		corners, vertices = b.Corners, b.Vertices
	}
	var back []int32
	for f, t := range corners {
		if near != nil && near[f] && !gone(t) && g.backwards(f, vertices[t[0]], vertices[t[1]], vertices[t[2]]) {
			back = append(back, int32(f))
		}
	}
	if len(back) == 0 {
		if b != nil {
			b.HeldFrom = int32(len(b.Vertices))
		}
		return b, split
	}
	if b == nil {
		b = &Surface{Vertices: append([]r3.Vector(nil), vertices...), Corners: append([][3]int32(nil), corners...)}
	}
	b.Held, b.HeldFrom = len(back), int32(len(b.Vertices))
	for _, f := range back {
		t := b.Corners[f]
		var d, at [3]r3.Vector
		for k := range 3 {
			d[k] = b.Vertices[t[k]].Sub(g.m.Corner(int(f), k))
		}
		for step := holdSteps - 1; step >= 0; step-- {
			for k := range 3 {
				at[k] = g.m.Corner(int(f), k).Add(d[k].Mul(float64(step) / holdSteps))
			}
			if n := at[1].Sub(at[0]).Cross(at[2].Sub(at[0])); min(n.Dot(d[0]), n.Dot(d[1]), n.Dot(d[2])) >= 0 {
				break
			}
		}
		for k, v := range g.m.Facets[f] {
			b.Corners[f][k] = int32(len(b.Vertices))
			b.Vertices = append(b.Vertices, at[k])
			split = append(split, v)
		}
	}
	slices.Sort(split)
	return b, slices.Compact(split)
}

// backwards tells whether facet f, grown to the corners given, faces against the move of one of them.
func (g *grower) backwards(f int, p, q, s r3.Vector) bool {
	if g.opt.Keep != nil && g.opt.Keep[f] {
		return false
	}
	n := q.Sub(p).Cross(s.Sub(p))
	for k, x := range [3]r3.Vector{p, q, s} {
		if d := x.Sub(g.m.Corner(f, k)); n.Dot(d) < -along*n.Norm()*d.Norm() {
			return true
		}
	}
	return false
}

// fans returns the corners of facets at vertex v, each fan counterclockwise.
func (g *grower) fans(v int32) [][]int32 {
	var fans [][]int32
	seen := map[int32]bool{}
	for _, c := range g.in.Of(v) {
		if seen[c] {
			continue
		}
		var fan []int32
		for h := c; !seen[h]; {
			seen[h] = true
			fan = append(fan, h)
			if h = g.topo.Twin[mesh.Prev(h)]; h == mesh.None {
				break
			}
		}
		fans = append(fans, fan)
	}
	return fans
}

// divide returns the runs of facets of a fan that move together, as few as can
// be and none further than the limits; nil when that cannot be had.
func (g *grower) divide(fan []int32, field mesh.CornerField) []arc {
	d := &divider{fan: fan}
	ones := make([]plane, 0, len(fan))
	for i, c := range fan {
		f, next := c/3, fan[(i+1)%len(fan)]
		a := field[f][c%3]
		d.own = append(d.own, plane{g.normal(f), a})
		d.edge = append(d.edge, plane{g.across(f, next/3, mesh.Prev(c)), max(a, field[next/3][next%3])})
		d.most = max(d.most, a)
		if g.normal(f) != (r3.Vector{}) {
			ones = append(ones, plane{g.normal(f), 1})
		}
	}
	if d.most == 0 {
		return nil
	}
	for _, limit := range []float64{blunt, g.opt.MitreLimit} {
		d.limit = limit * d.most
		if arcs := d.divide(ones); arcs != nil {
			return arcs
		}
	}
	return nil
}

// divide divides the fan with the limit set; ones are its facets' planes at unit distance.
func (d *divider) divide(ones []plane) []arc {
	best := d.shortest(2)
	if best == nil || len(best) > 2 {
		// Three parts or more span a lid over the vertex, which lies as far off as
		// the stock when all parts lie beyond one plane: that across the direction
		// from which all facets are seen at the steepest.
		if m, out := least(ones, math.Inf(1)); out == solved {
			d.lid = plane{m.Normalize(), d.most}
			if with := d.shortest(len(d.fan)); with != nil {
				return with
			}
			d.lid = plane{}
		}
		best = d.shortest(len(d.fan))
	}
	return best
}

// divider divides one fan.
type divider struct {
	fan       []int32
	own, edge []plane // of facet i; of the chamfer on the edge between facets i and i+1
	lid       plane   // of the chamfer on the vertex, if it has one
	most      float64 // largest allowance
	limit     float64 // longest move
	planes    []plane
}

// shortest returns the division into the fewest arcs, at most limit, that any start gives.
func (d *divider) shortest(limit int) []arc {
	k := len(d.fan)
	var best []arc
	length := math.Inf(1)
	for s := range min(k, bevelStarts) {
		arcs, sum := d.from(s*k/min(k, bevelStarts), limit)
		if arcs != nil && (best == nil || len(arcs) < len(best) || len(arcs) == len(best) && sum < length) {
			best, length = arcs, sum
		}
	}
	return best
}

// from divides the fan beginning with facet s, every arc as long as can be.
func (d *divider) from(s, limit int) (arcs []arc, sum float64) {
	for done, k := 0, len(d.fan); done < k; {
		a := arc{from: (s + done) % k}
		for n := 1; n <= k-done; n++ {
			move, holds := d.move(a.from, n)
			if holds {
				a.n, a.move = n, move
			} else if _, out := least(d.planes[:n], d.limit); out != solved {
				break
			}
		}
		if a.n == 0 || len(arcs) == limit {
			return nil, 0
		}
		arcs = append(arcs, a)
		done += a.n
		sum += a.move.Norm2()
	}
	return arcs, sum
}

// move returns the move of the arc of n facets from s on: for its facets, the
// chamfers at its two ends, and the lid. The facets' planes come first in d.planes.
func (d *divider) move(s, n int) (r3.Vector, bool) {
	k := len(d.fan)
	d.planes = d.planes[:0]
	for i := range n {
		d.planes = append(d.planes, d.own[(s+i)%k])
	}
	if n < k {
		d.planes = append(d.planes, d.edge[(s+k-1)%k], d.edge[(s+n-1)%k])
	}
	if d.lid.a > 0 {
		d.planes = append(d.planes, d.lid)
	}
	for i := range d.planes {
		if d.planes[i].n == (r3.Vector{}) {
			d.planes[i].a = 0
		}
	}
	m, out := least(d.planes, d.limit)
	return m, out == solved
}

// across returns the direction in which a chamfer on the edge of half-edge h
// between facets f and e looks: halfway between their normals, or, where these
// are back to back, away from both.
func (g *grower) across(f, e, h int32) r3.Vector {
	n, o := g.normal(f), g.normal(e)
	if sum := n.Add(o); sum.Norm() > foldBelow {
		return sum.Normalize()
	}
	along := g.m.Vertices[g.m.Target(h)].Sub(g.m.Vertices[g.m.Origin(h)])
	return along.Cross(n).Add(o.Cross(along)).Normalize()
}

// close makes the facets: the nominal ones on the parts of their corners, beside
// them the strips along edges whose facets went apart, and the lids over
// vertices that fell into three parts or more.
func (g *grower) close(b *Surface, split []int32) {
	lids := map[int32][][3]int32{}
	for _, v := range split {
		for _, fan := range g.fans(v) {
			f := fan[0] / 3
			var ring []int32
			for _, c := range fan {
				if p := b.Corners[c/3][c%3]; len(ring) == 0 || ring[len(ring)-1] != p {
					ring = append(ring, p)
				}
			}
			if ring[0] == ring[len(ring)-1] {
				ring = ring[1:]
			}
			for i := 1; i+1 < len(ring); i++ {
				if gone([3]int32{ring[0], ring[i], ring[i+1]}) {
					continue
				}
				lids[f] = append(lids[f], [3]int32{ring[0], ring[i], ring[i+1]})
			}
		}
	}
	add := func(f int32, added bool, ts ...[3]int32) {
		for _, t := range ts {
			b.Facets, b.NominalOf, b.Added = append(b.Facets, t), append(b.NominalOf, f), append(b.Added, added)
		}
	}
	for f := range g.m.Facets {
		if t := b.Corners[f]; gone(t) {
			b.Gone++
		} else {
			add(int32(f), false, t)
		}
		for k := range int32(3) {
			h := 3*int32(f) + k
			if t := g.topo.Twin[h]; t != mesh.None && h < t {
				add(int32(f), true, strip(b, h, t)...)
			}
		}
		add(int32(f), true, lids[int32(f)]...)
	}
}

// strip returns the facets between half-edge h and its twin t where their ends went apart.
func strip(b *Surface, h, t int32) [][3]int32 {
	at := func(h int32) int32 { return b.Corners[h/3][h%3] }
	from, to := at(h), at(mesh.Next(h))
	toOther, fromOther := at(t), at(mesh.Next(t))
	var out [][3]int32
	if from != fromOther {
		out = append(out, [3]int32{to, from, fromOther})
	}
	if to != toOther {
		out = append(out, [3]int32{to, fromOther, toOther})
	}
	return out
}
