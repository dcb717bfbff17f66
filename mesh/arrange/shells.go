package arrange

import "github.com/golang/geo/r3"

// shells are the groups of facets joined by edges, those of the patch numbered
// in order of their first facet.
type shells struct {
	of  []int32 // per facet
	far []int32 // per part of the rest, -1 for one that is gone
	n   int
}

func (s *surface) shells() *shells {
	sh := &shells{of: filled(len(s.facets)), far: filled(s.rest.parts())}
	edge := s.openFacets()
	var queue []int32
	reach := func(f int32) {
		if sh.of[f] < 0 {
			sh.of[f] = int32(sh.n)
			queue = append(queue, f)
		}
	}
	for f := range s.facets {
		if sh.of[f] >= 0 {
			continue
		}
		reach(int32(f))
		for len(queue) > 0 {
			g := queue[len(queue)-1]
			queue = queue[:len(queue)-1]
			for h := 3 * g; h < 3*g+3; h++ {
				if t := s.twin[h]; t >= 0 {
					reach(t / 3)
				} else if c := s.beyond(h); c >= 0 && sh.far[c] < 0 {
					sh.far[c] = int32(sh.n)
					for _, e := range edge[c] {
						reach(e)
					}
				}
			}
		}
		sh.n++
	}
	for c := range sh.far {
		if sh.far[c] < 0 && !s.rest.gone[c] {
			sh.far[c] = int32(sh.n)
			sh.n++
		}
	}
	return sh
}

// volumes returns six times the signed volume of every shell.
func (s *surface) volumes(sh *shells) []float64 {
	vol := make([]float64, sh.n)
	var o r3.Vector
	if s.rest != nil {
		o = s.rest.middle
	} else {
		lo, hi := s.bounds()
		o = lo.Add(hi).Mul(0.5)
	}
	for f := range s.facets {
		a, b, c := s.corners(int32(f))
		vol[sh.of[f]] += a.Sub(o).Dot(b.Sub(o).Cross(c.Sub(o)))
	}
	for c, n := range sh.far {
		if n >= 0 {
			vol[n] += s.rest.volume[c]
		}
	}
	return vol
}

// filled returns n times -1.
func filled(n int) []int32 {
	out := make([]int32, n)
	for i := range out {
		out[i] = -1
	}
	return out
}
