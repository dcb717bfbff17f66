package arrange

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// meetings returns the pairs of facets that meet. With suspects only those that
// may meet are asked: what is no longer a facet of the input m as it was, at
// first for its place on the grid, and the suspects in the first round.
func (r *resolver) meetings(ctx context.Context, t *tree, m *mesh.Mesh, round int) ([]contact, error) {
	s := r.s
	if r.opt.Suspects == nil {
		if round > 0 { // only what the last round changed can meet; all is asked to be sure at the end
			if cs, err := t.contactsOf(ctx, r.opt.Workers, s.changed()); err != nil || len(cs) > 0 {
				return cs, err
			}
		}
		return t.contacts(ctx, r.opt.Workers)
	}
	ask := make([]bool, len(s.facets))
	for f := range ask {
		ask[f] = !s.unchanged(int32(f), m)
	}
	if round == 0 {
		suspect := make([]bool, len(m.Facets))
		for _, f := range r.opt.Suspects {
			suspect[f] = true
		}
		for f := range ask {
			ask[f] = ask[f] || suspect[s.facet[f]] || s.flat(int32(f))
		}
	}
	for _, f := range s.around(s.coincident()) { // tests by place take these for corners shared
		ask[f] = true
	}
	var list []int32
	for f, yes := range ask {
		if yes {
			list = append(list, int32(f))
		}
	}
	return t.contactsOf(ctx, r.opt.Workers, list)
}

// unchanged tells whether facet f is the facet of m that it belongs to, with
// its corners where m has them.
func (s *surface) unchanged(f int32, m *mesh.Mesh) bool {
	from := m.Facets[s.facet[f]]
	t := s.facets[f]
	if t[0] < 0 {
		return false
	}
	for turn := range 3 {
		same := true
		for k, v := range t {
			w := from[(k+turn)%3]
			same = same && s.vertex[v] == w && s.at[v] == m.Vertices[w]
		}
		if same {
			return true
		}
	}
	return false
}

// coincident returns the vertices that lie where another one does.
func (s *surface) coincident() []int32 {
	size := 16
	for size < 2*len(s.at) {
		size *= 2
	}
	first := make([]int32, size) // by place, the vertex plus one; 0 when free
	told := map[int32]bool{}
	var vs []int32
	for v, p := range s.at {
		i := int(hashPlace(p) & uint64(size-1))
		for first[i] != 0 && s.at[first[i]-1] != p {
			i = (i + 1) & (size - 1)
		}
		if w := first[i] - 1; w >= 0 {
			if !told[w] {
				told[w] = true
				vs = append(vs, w)
			}
			vs = append(vs, int32(v))
			continue
		}
		first[i] = int32(v) + 1
	}
	return vs
}

func hashPlace(p r3.Vector) uint64 {
	return mix(mix(mix(math.Float64bits(p.X))+math.Float64bits(p.Y)) + math.Float64bits(p.Z))
}
