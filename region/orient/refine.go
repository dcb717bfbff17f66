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
	for i := range r.Best {
		if err := k.exact(m, topo, &r.Best[i]); err != nil {
			return err
		}
	}
	slices.SortFunc(r.Best, byScore)
	if k.opt.Current == (r3.Vector{}) {
		return nil
	}
	r.Current = &Candidate{Dir: k.opt.Current}
	return k.exact(m, topo, r.Current)
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
			t.Tally = k.hist.tally(t.Dir, &k.limits)
			if err := k.price(&t); err != nil {
				return c, err
			}
			if t.Score = k.score(&t); t.Score < best.Score-1e-12 {
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
	s, err := region.Classify(m, topo, region.Options{BuildDir: c.Dir, VerticalFrom: k.opt.VerticalFrom, MinIslandMM2: k.opt.MinIslandMM2})
	if err != nil {
		return err
	}
	c.Dir = c.Dir.Normalize()
	c.Tally = Tally{AreaMM2: s.Areas(m)}
	for f, skin := range s.Skin {
		n := m.AreaNormal(f)
		if d := n.Dot(c.Dir); d < 0 {
			c.Tally.DownMM2[binOf(s.Inclination[f])] += n.Norm() / 2
			if skin == region.Downskin && s.Inclination[f] < k.opt.Critical {
				c.Tally.FlatMM2 += n.Norm() / 2
			}
		}
	}
	c.Tally.HeightMM = height(m, c.Dir)
	c.Exact = true
	if err := k.price(c); err != nil {
		return err
	}
	c.Score = k.score(c)
	return nil
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
