package orient

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/region"
)

// The search around a sampled direction steps in six ways, beginning with the
// spacing of 2,500 directions and ending where a machine's angles end.
const (
	firstStep = 4 * s1.Degree
	lastStep  = s1.Degree / 8
)

// refine searches around the best directions and tries them on the real mesh.
func (k *ranker) refine(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, r *Ranking) error {
	order := slices.Clone(r.Sampled)
	slices.SortFunc(order, byScore)
	apart := math.Cos(k.opt.Apart.Radians())
	for _, c := range order {
		if len(r.Best) == k.opt.Best {
			break
		}
		near := func(b Candidate) bool { return b.Dir.Dot(c.Dir) > apart }
		if slices.ContainsFunc(r.Best, near) {
			continue
		}
		c, err := k.climb(ctx, c)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(r.Best, func(b Candidate) bool { return b.Dir.Dot(c.Dir) > apart }) {
			r.Best = append(r.Best, c)
		}
	}
	try := make([]*Candidate, len(r.Best))
	for i := range r.Best {
		try[i] = &r.Best[i]
	}
	if k.opt.Current != (r3.Vector{}) {
		r.Current = &Candidate{Dir: k.opt.Current}
		try = append(try, r.Current)
	}
	err := mesh.Spread(ctx, len(try), 1, k.opt.Workers, func(_, i, _ int) error { return k.exact(m, topo, try[i]) })
	if err != nil {
		return err
	}
	slices.SortFunc(r.Best, byScore)
	return nil
}

// climb steps to better neighbours on the histogram, with ever smaller steps.
func (k *ranker) climb(ctx context.Context, c Candidate) (Candidate, error) {
	for step := firstStep; step >= lastStep; {
		if err := ctx.Err(); err != nil {
			return c, err
		}
		best := c
		u := c.Dir.Ortho().Normalize()
		v := c.Dir.Cross(u)
		for i := range 6 {
			s, co := math.Sincos(float64(i) * math.Pi / 3)
			t := Candidate{Dir: c.Dir.Add(u.Mul(co).Add(v.Mul(s)).Mul(math.Tan(step.Radians()))).Normalize()}
			if err := k.quick(&t); err != nil {
				return c, err
			}
			if t.Score = k.score(&t); t.class() < best.class() || t.class() == best.class() && t.Score < best.Score-1e-12 {
				best = t
			}
		}
		if best.Dir == c.Dir {
			step /= 2
		}
		c = best
	}
	return c, nil
}

// exact tallies a candidate on the real mesh.
func (k *ranker) exact(m *mesh.Mesh, topo *mesh.Topology, c *Candidate) error {
	s, err := region.Classify(m, topo, region.Options{
		BuildDir: c.Dir, VerticalFrom: k.opt.VerticalFrom, MinIslandMM2: k.opt.MinIslandMM2,
		OnPlatform: k.opt.OnPlatform, PlatformTolMM: k.opt.PlatformTolMM,
	})
	if err != nil {
		return err
	}
	c.Dir = c.Dir.Normalize()
	c.Tally = k.count(m, s, c.Dir)
	c.Tally.HeightMM = height(m, c.Dir)
	c.Exact = true
	if err := k.price(c); err != nil {
		return err
	}
	c.Score = k.score(c)
	return nil
}

// count tallies the facets as they were sorted.
func (k *ranker) count(m *mesh.Mesh, s *region.Sorting, b r3.Vector) Tally {
	var t Tally
	var steps [len(region.Skins)][2 * Bins]struct{ area, moment, lo, hi float64 } // of the angle
	for f, skin := range s.Skin {
		n := m.AreaNormal(f)
		area := n.Norm() / 2
		theta := s.Inclination[f]
		if n.Dot(b) < 0 {
			t.DownMM2[min(Bins-1, int(theta.Degrees()*Bins/90))] += area
			if skin == region.Downskin && theta < k.opt.Critical {
				t.FlatMM2 += area
			}
			theta = 180*s1.Degree - theta
		}
		if area == 0 || k.opt.Masked != nil && k.opt.Masked[f] {
			continue
		}
		a := theta.Radians()
		p := &steps[skin][min(2*Bins-1, int(theta.Degrees()*Bins/90))]
		if p.area == 0 {
			p.lo, p.hi = a, a
		}
		p.area += area
		p.moment += float64(area * a)
		p.lo, p.hi = min(p.lo, a), max(p.hi, a)
		t.AreaMM2[skin] += area
	}
	for skin := range steps {
		for _, p := range steps[skin] {
			if p.area > 0 {
				t.Pieces = append(t.Pieces, Piece{
					Skin: region.Skin(skin), AreaMM2: p.area, Mean: s1.Angle(p.moment / p.area), Lo: s1.Angle(p.lo), Hi: s1.Angle(p.hi),
				})
			}
		}
	}
	return t
}

// height returns the extent of m along b.
func height(m *mesh.Mesh, b r3.Vector) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, t := range m.Facets {
		for _, v := range t {
			d := m.Vertices[v].Dot(b)
			lo, hi = min(lo, d), max(hi, d)
		}
	}
	return hi - lo
}

// Turn returns m turned by the least angle that brings direction b to +z, and
// shifted to stand on z = 0 with its middle where it was in x and y.
func Turn(m *mesh.Mesh, b r3.Vector) *mesh.Mesh {
	b = b.Normalize()
	axis, c := b.Cross(r3.Vector{Z: 1}), b.Z
	s := axis.Norm()
	switch {
	case s > 0:
		axis = axis.Mul(1 / s)
	case c < 0:
		axis = r3.Vector{X: 1} // upside down: half a turn about x
	}
	out := m.Clone()
	for i, v := range out.Vertices {
		out.Vertices[i] = v.Mul(c).Add(axis.Cross(v).Mul(s)).Add(axis.Mul(axis.Dot(v) * (1 - c)))
	}
	lo, hi := m.Bounds()
	l2, h2 := out.Bounds()
	shift := lo.Add(hi).Sub(l2.Add(h2)).Mul(0.5)
	shift.Z = -l2.Z
	for i, v := range out.Vertices {
		out.Vertices[i] = v.Add(shift)
	}
	return out
}
