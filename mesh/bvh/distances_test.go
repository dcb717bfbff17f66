package bvh

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
)

// Four distances at once are those of one at a time to the last bit: over faces,
// edges and corners, on them, and of facets without area.
func TestDistancesOfFour(t *testing.T) {
	if !hasLanes {
		t.Skip("this processor measures one facet at a time")
	}
	r := rand.New(rand.NewPCG(8, 1))
	number := func() float64 {
		if r.IntN(3) == 0 {
			return float64(r.IntN(5) - 2)
		}
		return (r.Float64() - 0.5) * math.Pow(10, 6*r.Float64()-3)
	}
	point := func() r3.Vector { return r3.Vector{X: number(), Y: number(), Z: number()} }
	for range 200000 {
		v := make([]r3.Vector, 12)
		for i := range v {
			v[i] = point()
		}
		tri := make([][3]int32, 6)
		for i := range tri {
			tri[i] = [3]int32{int32(r.IntN(12)), int32(r.IntN(12)), int32(r.IntN(12))}
		}
		if r.IntN(4) == 0 {
			v[1] = v[0].Add(v[2].Sub(v[0]).Mul(r.Float64())) // hardly any area
			tri[0] = [3]int32{0, 1, 2}
		}
		p := point()
		if r.IntN(4) == 0 {
			p = v[r.IntN(12)].Add(v[r.IntN(12)]).Mul(0.5)
		}
		at := [4]int32{int32(r.IntN(6)), int32(r.IntN(6)), int32(r.IntN(6)), int32(r.IntN(6))}
		var got [4]float64
		distances(&tri[0], &v[0], &at, &p, &got)
		for k, i := range at {
			w := tri[i]
			if want := distance2(&p, &v[w[0]], &v[w[1]], &v[w[2]], math.Inf(1)); got[k] != want {
				t.Fatalf("from %v to %v %v %v: %v, want %v", p, v[w[0]], v[w[1]], v[w[2]], got[k], want)
			}
		}
	}
}
