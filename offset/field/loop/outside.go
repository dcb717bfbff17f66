package loop

import (
	"context"
	"math"

	"skinstock/mesh"
	"skinstock/mesh/arrange"
	"skinstock/mesh/bvh"
)

// outside returns the surface that the bath meets where facets of m ran into
// each other, with the report of which facets and vertices of m its own are; m itself and nil
// where it is free of crossings, or could not be made so. Voids up to voidMM deep
// that folds left are filled.
func outside(ctx context.Context, m *mesh.Mesh, voidMM float64, workers int) (*mesh.Mesh, *arrange.Report, error) {
	c, err := bvh.New(m, workers).SelfCrossings(ctx, bvh.CrossingOptions{Workers: workers, Limit: 1})
	if err != nil || c.Total == 0 {
		return m, nil, err
	}
	out, rep, err := arrange.Resolve(ctx, m, arrange.Options{Workers: workers, DropVoidsMM: voidMM, DropVoidsMM3: math.Inf(1)})
	if err != nil {
		return m, nil, ctx.Err()
	}
	return out, rep, nil
}

// ashore carries factors from the pieces of an outer surface back to the facets
// of m. Facets that lie buried get the mean of those around them, from the
// uncovered ones inwards: the bath reaches them when those are gone.
func ashore(m, out *mesh.Mesh, of []int32, factor []float64) []float64 {
	got, area := make([]float64, len(m.Facets)), make([]float64, len(m.Facets))
	for g, f := range of {
		a := out.FacetArea(g)
		got[f] += a * factor[g]
		area[f] += a
	}
	var buried []int32
	known := make([]bool, len(m.Facets))
	for f, a := range area {
		if known[f] = a > 0; known[f] {
			got[f] /= a
		} else {
			buried = append(buried, int32(f))
		}
	}
	in := m.Incidence()
	for len(buried) > 0 {
		var rest, now []int32
		for _, f := range buried {
			sum, n := 0.0, 0
			for _, v := range m.Facets[f] {
				for _, h := range in.Of(v) {
					if known[h/3] {
						sum += got[h/3]
						n++
					}
				}
			}
			if n == 0 {
				rest = append(rest, f)
				continue
			}
			got[f] = sum / float64(n)
			now = append(now, f)
		}
		if len(now) == 0 {
			break // a shell that is buried as a whole
		}
		for _, f := range now {
			known[f] = true
		}
		buried = rest
	}
	return got
}
