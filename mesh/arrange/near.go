package arrange

import (
	"context"
	"errors"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

const (
	// nearTries bounds how often the patch is made larger before the whole is taken.
	nearTries = 6
	// nearShare is the share of the facets above which the whole is taken.
	nearShare = 0.25
	// nearRings is how many rings of facets lie around those that come near the suspects.
	nearRings = 2
	// nearNudges is how far from the suspects, in nudges, facets may come to meet them.
	nearNudges = 32
	// nearShells is how many shells without suspects a patch may leave: each is asked
	// on which side of the others it lies.
	nearShells = 64
)

// resolveNear is Resolve of a patch around the suspects, put back into the
// whole: of most facets it only looks at the boxes. It ends in errFar where the
// patch would hold more than a share of the facets, or facets meet that it cannot
// hold.
func resolveNear(ctx context.Context, m *mesh.Mesh, opt Options, share float64) (*mesh.Mesh, *Report, error) {
	n, err := newNear(m, opt, share)
	if err != nil {
		return nil, nil, err
	}
	for range nearTries {
		out, rep, err := n.try(ctx)
		var far *farError
		if !errors.As(err, &far) {
			return out, rep, err
		}
		for _, f := range far.facets {
			n.core[f] = true
		}
	}
	return nil, nil, errFar
}

// near is a mesh of which a patch is to be resolved.
type near struct {
	m    *mesh.Mesh
	opt  Options
	topo *mesh.Topology
	most int    // facets of the patch
	core []bool // facets of which the patch holds the neighbourhood: suspects, and those that may meet others for their shape
}

func newNear(m *mesh.Mesh, opt Options, share float64) (*near, error) {
	s := &surface{at: m.Vertices, facets: m.Facets}
	n := &near{m: m, opt: opt.withDefaults(s.largest(), len(m.Facets)), topo: m.Topology(), core: make([]bool, len(m.Facets)), most: int(share * float64(len(m.Facets)))}
	if n.topo.OpenEdges+n.topo.WrongWayEdges > 0 || !(s.largest() < maxCoordMM) || len(n.opt.Suspects) > n.most {
		return nil, errFar
	}
	odd := make([]bool, len(m.Vertices)) // not on the grid, in one place with another, or of several fans
	mesh.InChunks(len(odd), opt.Workers, func(lo, hi int) {
		for v := lo; v < hi; v++ {
			odd[v] = snap(m.Vertices[v]) != m.Vertices[v]
		}
	})
	snapped := &surface{at: m.Vertices}
	if anyOf(odd) {
		snapped.at = make([]r3.Vector, len(m.Vertices))
		for v, p := range m.Vertices {
			snapped.at[v] = snap(p)
		}
	}
	for _, v := range snapped.coincident() {
		odd[v] = true
	}
	if n.topo.Pinched+n.topo.NonManifoldEdges > 0 {
		n.markFans(odd)
	}
	mesh.InChunks(len(n.core), opt.Workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			t := m.Facets[f]
			n.core[f] = odd[t[0]] || odd[t[1]] || odd[t[2]] || s.flat(int32(f))
		}
	})
	for _, f := range opt.Suspects {
		n.core[f] = true
	}
	return n, nil
}

func anyOf(is []bool) bool {
	for _, b := range is {
		if b {
			return true
		}
	}
	return false
}

// markFans marks the vertices that several fans of facets share.
func (n *near) markFans(marked []bool) {
	seen := make([]bool, len(n.topo.Twin))
	taken := make([]bool, len(marked))
	for h := range seen {
		if seen[h] {
			continue
		}
		v := n.m.Origin(int32(h))
		marked[v] = marked[v] || taken[v]
		taken[v] = true
		g := int32(h)
		for g != mesh.None && !seen[g] {
			seen[g] = true
			g = n.topo.Twin[mesh.Prev(g)]
		}
		if g == mesh.None { // more than two facets meet in an edge
			marked[v] = true
		}
	}
}

// try resolves the patch around the present core.
func (n *near) try(ctx context.Context) (*mesh.Mesh, *Report, error) {
	r, patch, err := n.cutOut()
	if err != nil {
		return nil, nil, err
	}
	opt := n.opt
	opt.Suspects = opt.Suspects[:0:0]
	for f, g := range r.facet {
		if n.core[g] {
			opt.Suspects = append(opt.Suspects, int32(f))
		}
	}
	s, err := fromMesh(patch)
	if err != nil {
		return nil, nil, err
	}
	s.rest, s.named = r, int32(len(n.m.Vertices))
	copy(s.name, r.vertex)
	out, rep, err := resolveSurface(ctx, patch, s, opt)
	var open *NotClosedError
	if errors.As(err, &open) {
		err = errFar
	}
	if err == nil {
		err = n.checkApart(r, patch, out, rep)
	}
	if err != nil {
		return nil, nil, err
	}
	n.topo, n.core = nil, nil // the whole once more takes as much
	return r.putBack(out, rep), rep, nil
}

// cutOut cuts the patch out: the facets near the core and all around them.
func (n *near) cutOut() (*rest, *mesh.Mesh, error) {
	zone := &surface{at: n.m.Vertices}
	for f, is := range n.ring(n.core) {
		if is {
			zone.facets = append(zone.facets, n.m.Facets[f])
		}
	}
	in := n.meeting(zone, float32(nearNudges*n.opt.NudgeMM))
	for range nearRings {
		in = n.ring(in)
	}
	r := &rest{m: n.m, part: make([]int32, len(in)), edge: map[[2]int32]int32{}}
	patch := &mesh.Mesh{}
	number := filled(len(n.m.Vertices))
	for f, t := range n.m.Facets {
		if in[f] {
			r.facet = append(r.facet, int32(f))
			number[t[0]], number[t[1]], number[t[2]] = 0, 0, 0
		}
	}
	if len(r.facet) > n.most {
		return nil, nil, errFar
	}
	for v, k := range number {
		if k == 0 {
			number[v] = int32(len(r.vertex))
			r.vertex = append(r.vertex, int32(v))
			patch.Vertices = append(patch.Vertices, n.m.Vertices[v])
		}
	}
	for _, f := range r.facet {
		t := n.m.Facets[f]
		patch.Facets = append(patch.Facets, [3]int32{number[t[0]], number[t[1]], number[t[2]]})
	}
	return r, patch, n.measure(r, in, number)
}

// ring returns the facets with a corner in common with those given, these included.
func (n *near) ring(facets []bool) []bool {
	vertex := make([]bool, len(n.m.Vertices))
	for f, is := range facets {
		if is {
			t := n.m.Facets[f]
			vertex[t[0]], vertex[t[1]], vertex[t[2]] = true, true, true
		}
	}
	out := make([]bool, len(facets))
	mesh.InChunks(len(out), n.opt.Workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			t := n.m.Facets[f]
			out[f] = vertex[t[0]] || vertex[t[1]] || vertex[t[2]]
		}
	})
	return out
}

// meeting returns the facets whose boxes, larger by so much on all sides, meet
// that of a facet of the zone.
func (n *near) meeting(zone *surface, by float32) []bool {
	t := newTree(zone)
	out := make([]bool, len(n.m.Facets))
	mesh.InChunks(len(out), n.opt.Workers, func(lo, hi int) {
		var own [rayGroup]box
		for ; lo < hi; lo += rayGroup {
			end, all := min(lo+rayGroup, hi), emptyBox
			for f := lo; f < end; f++ {
				b := boxOf(n.m, int32(f))
				for k := range 3 {
					b[k], b[k+3] = b[k]-by, b[k+3]+by
				}
				all.join(&b)
				own[f-lo] = b
			}
			if !t.meets(&all) { // facets that follow each other mostly lie together
				continue
			}
			for f := lo; f < end; f++ {
				out[f] = t.meets(&own[f-lo])
			}
		}
	})
	return out
}

// checkApart tells by its error that a facet of the rest comes near one that is
// not as it was: then the patch was too small to hold all that can meet.
func (n *near) checkApart(r *rest, patch, out *mesh.Mesh, rep *Report) error {
	zone := &surface{at: out.Vertices}
	for g, t := range out.Facets {
		from := patch.Facets[rep.Facet[g]]
		same := false
		for turn := range 3 {
			as := true
			for k, v := range t {
				w := from[(k+turn)%3]
				as = as && rep.Vertex[v] == w && out.Vertices[v] == patch.Vertices[w]
			}
			same = same || as
		}
		if !same {
			zone.facets = append(zone.facets, t)
		}
	}
	e := &farError{}
	for f, meets := range n.meeting(zone, 0) {
		if p := r.part[f]; meets && p >= 0 && !r.gone[p] {
			e.facets = append(e.facets, int32(f))
		}
	}
	if len(e.facets) > 0 {
		return e
	}
	return nil
}
