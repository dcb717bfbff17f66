package verify

import (
	"math"
	"math/rand"
	"testing"

	"github.com/golang/geo/r3"
)

// Where a piece lacks most over an edge whose allowance slopes, found by trying
// ten thousand places of it, and where it stands straight over the edge.
func TestPairAgreesWithTrying(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	point := func() r3.Vector { return r3.Vector{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()} }
	sloped, over, passed := 0, 0, 0
	for range 2000 {
		a, b, p, q := point(), point(), point(), point()
		level := r.Intn(4) == 0
		if level {
			b = a.Add(q.Sub(p)) // as the edge runs
		}
		c := pairOf(a, b, p, q)
		rise := q.Sub(p).Norm() * (r.Float64() - 0.5) / 4
		lack := func(at float64) float64 {
			along, d := c.at(at)
			return along*rise - d
		}
		best, least, crossing := math.Inf(-1), math.Inf(1), math.NaN()
		n := point()
		n = n.Sub(q.Sub(p).Mul(n.Dot(q.Sub(p)) / q.Sub(p).Norm2()))
		wall := n.Cross(q.Sub(p)).Normalize()
		const steps = 10000
		for i := range steps + 1 {
			at := float64(i) / steps
			along, d := c.at(at)
			if along > 0 && along < 1 {
				best = max(best, lack(at))
			}
			least = min(least, d)
			y := a.Add(b.Sub(a).Mul(at))
			if d2 := y.Distance(p.Add(q.Sub(p).Mul(along))); math.Abs(d2-d) > 1e-12 {
				t.Fatalf("distance %g, want %g", d, d2)
			}
			if math.Abs(wall.Dot(y.Sub(p))) < 1e-3 && along > 0.01 && along < 0.99 {
				crossing = at
			}
		}
		if math.Abs(math.Sqrt(c.d2)-least) > 1e-3 {
			t.Errorf("nearest %g, want %g", math.Sqrt(c.d2), least)
		}
		if best > math.Inf(-1) {
			sloped++
			if got := lack(c.nearest(rise)); got < best-1e-9 {
				t.Errorf("lacks %g, some place %g", got, best)
			}
		}
		if at, ok := c.over(n); !level && ok != !math.IsNaN(crossing) && crossing > 0.01 && crossing < 0.99 {
			t.Errorf("straight over the edge: %v %v, want %v", at, ok, crossing)
		} else if ok && !math.IsNaN(crossing) {
			over++
			near(t, "straight over the edge", at, crossing, 0.05)
		}
		if apart(a, b, p, q, least) {
			passed++
			if apart(a, b, p, q, least*1.0001) && least > 0 && math.Abs(a.Sub(p).Dot(b.Sub(a).Cross(q.Sub(p)).Normalize())) < least {
				t.Errorf("lines nearer than %g said to be apart", least)
			}
		}
	}
	if sloped < 500 || over < 50 {
		t.Errorf("too few pairs tried: %d sloped, %d over, %d apart", sloped, over, passed)
	}
}
