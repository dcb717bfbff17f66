package field

import (
	"context"

	"skinstock/mesh"
)

// samplesForSizing is how many places decide on the sizes.
const samplesForSizing = 10000

// newPanels cuts and gathers the part's facets to panels within the budget.
func newPanels(ctx context.Context, m *mesh.Mesh, opt *Options) (*surface, error) {
	if opt.AsMeshed {
		return asMeshed(m, opt.Insulated), nil
	}
	s, ss, err := newSizing(ctx, m, opt.Workers)
	if err != nil {
		return nil, err
	}
	budget := float64(opt.MaxPanels)
	for try := 0; ; try++ {
		if err := s.fit(ctx, ss, budget, opt.StripMM); err != nil {
			return nil, err
		}
		c, err := refine(ctx, m, s, 8*opt.MaxPanels+8*len(m.Facets))
		if err != nil {
			return nil, err
		}
		c.shut = opt.Insulated
		patch, n := c.gather()
		// Curved places take more panels than their area says: ask for less, a few times.
		if n > opt.MaxPanels+opt.MaxPanels/10 && try < 4 {
			budget *= 0.95 * float64(opt.MaxPanels) / float64(n)
			continue
		}
		return newSurface(c, patch, n), nil
	}
}

// newSizing measures the part once: its sharp edges, and samples of the surface.
func newSizing(ctx context.Context, m *mesh.Mesh, workers int) (*sizing, []sample, error) {
	g := newRooms(m, workers)
	s := &sizing{edges: newSegmentTree(sharpEdges(m, m.Topology(), g)), rooms: g, workers: workers}
	ss, err := samples(ctx, m, samplesForSizing, s)
	return s, ss, err
}

// Refine returns m with its facets cut to the sizes that Solve would choose for
// the options, for a part whose own facets are too coarse to carry a local
// factor. Every new facet lies in the plane of the facet it came from, which
// Source names; the first vertices are those of m.
func Refine(ctx context.Context, m *mesh.Mesh, opt Options) (*mesh.Mesh, error) {
	if err := opt.fill(); err != nil {
		return nil, err
	}
	if err := checkClosed(m); err != nil {
		return nil, err
	}
	s, ss, err := newSizing(ctx, m, opt.Workers)
	if err != nil {
		return nil, err
	}
	if err := s.fit(ctx, ss, float64(opt.MaxPanels), opt.StripMM); err != nil {
		return nil, err
	}
	c, err := refine(ctx, m, s, 8*opt.MaxPanels+8*len(m.Facets))
	if err != nil {
		return nil, err
	}
	out := &mesh.Mesh{Vertices: c.Vertices, Facets: c.Facets, Source: make([]int32, len(c.Facets))}
	for f, p := range c.parent {
		out.Source[f] = int32(m.SourceOf(int(p)))
	}
	return out, nil
}

// asMeshed makes a patch of every facet that has an area; shut marks those that are insulated.
func asMeshed(m *mesh.Mesh, shut []bool) *surface {
	c := &cut{Mesh: *m, parent: make([]int32, len(m.Facets)), shut: shut}
	patch := make([]int32, len(m.Facets))
	n := 0
	for f := range m.Facets {
		c.parent[f], patch[f] = int32(f), mesh.None
		if m.FacetArea(f) > 0 {
			patch[f] = int32(n)
			n++
		}
	}
	return newSurface(c, patch, n)
}

// panels makes a panel of every patch, in order; pieces keep the facet they came from.
func (s *surface) panels() []panel {
	count := make([]int32, s.n+1)
	for _, p := range s.patch {
		if p != mesh.None {
			count[p+1]++
		}
	}
	for i := range s.n {
		count[i+1] += count[i]
	}
	all := make([]piece, count[s.n])
	fill := append([]int32(nil), count[:s.n]...)
	for f, p := range s.patch {
		if p == mesh.None {
			continue
		}
		x, y, z := s.c.Triangle(f)
		all[fill[p]] = piece{x, y, z, s.c.parent[f]}
		fill[p]++
	}
	ps := make([]panel, 0, s.n)
	for i := range s.n {
		if p, ok := newPanel(all[count[i]:count[i+1]:count[i+1]]); ok {
			p.patch = int32(i)
			ps = append(ps, p)
		}
	}
	return ps
}
