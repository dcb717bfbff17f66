package screen

import (
	"math"
	"slices"
)

// acrossOthers joins the two pieces of a bore that a wider bore cuts through.
// Each piece keeps its reach, for both open into the wider hole.
func acrossOthers(bores []Bore, doors [][2]door) []Bore {
	gone := make([]bool, len(bores))
	for i := range bores {
		for e := range 2 {
			for j := i + 1; j < len(bores); j++ {
				k := doors[i][e].into
				if k < 0 || k >= len(bores) || gone[i] || gone[j] || bores[i].Curved || bores[j].Curved {
					continue
				}
				for g := range 2 {
					a, b := bores[i].Ends[e].At, bores[j].Ends[g].At
					gap := b.Sub(a)
					out := a.Sub(bores[i].Ends[1-e].At).Normalize()
					if doors[j][g].into != k || math.Abs(bores[i].DiameterMM-bores[j].DiameterMM) > 0.02*bores[i].DiameterMM ||
						gap.Dot(out) < 0 || gap.Norm() > 2*bores[k].DiameterMM || gap.Cross(out).Norm() > 0.05*bores[i].DiameterMM ||
						math.Abs(bores[i].Axis.Dot(bores[j].Axis)) < 0.999 {
						continue
					}
					bores[i].append(&bores[j], e, g)
					doors[i][e] = doors[j][1-g]
					gone[j] = true
					break
				}
			}
		}
	}
	var out []Bore
	for i := range bores {
		if !gone[i] {
			out = append(out, bores[i])
		}
	}
	return out
}

// append adds the hole c, whose end g lies opposite the end e of b, to b.
func (b *Bore) append(c *Bore, e, g int) {
	if e == 0 {
		b.turn()
	}
	if g == 1 {
		c.turn()
	}
	gap := c.Ends[0].At.Sub(b.Ends[1].At).Norm()
	for _, t := range c.line {
		t.s += b.DepthMM + gap
		b.line = append(b.line, t)
	}
	b.DepthMM += gap + c.DepthMM
	b.Ends[1] = c.Ends[1]
	b.At = b.Ends[0].At.Add(b.Ends[1].At).Mul(0.5)
	b.OpenEnds = 0
	for _, end := range b.Ends {
		if !math.IsInf(end.Diameters, 1) {
			b.OpenEnds++
		}
	}
	r, q := &b.Reach, &c.Reach
	r.LimitMM += q.LimitMM
	r.MarginalMM += q.MarginalMM
	r.FieldMM += q.FieldMM
	r.PrimaryMM += q.PrimaryMM
	r.UnreachedMM += q.UnreachedMM
	r.UnreachedMM2 += q.UnreachedMM2
	r.TooNarrow = r.TooNarrow || q.TooNarrow
}

// turn swaps the ends of a hole.
func (b *Bore) turn() {
	b.Ends[0], b.Ends[1] = b.Ends[1], b.Ends[0]
	b.Axis = b.Axis.Mul(-1)
	slices.Reverse(b.line)
	for i := range b.line {
		b.line[i].a = b.line[i].a.Mul(-1)
		b.line[i].s = b.DepthMM - b.line[i].s
	}
}
