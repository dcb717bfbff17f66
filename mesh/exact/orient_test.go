package exact

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh/exact/exacttest"
)

// reference3 evaluates ((b-a) x (c-a)) . (d-a) with rational numbers, in
// another arrangement than the package's own.
func reference3(a, b, c, d r3.Vector) int {
	rat := func(x, y float64) *big.Rat {
		return new(big.Rat).Sub(new(big.Rat).SetFloat64(x), new(big.Rat).SetFloat64(y))
	}
	vec := func(p r3.Vector) [3]*big.Rat {
		return [3]*big.Rat{rat(p.X, a.X), rat(p.Y, a.Y), rat(p.Z, a.Z)}
	}
	return tripleSign(vec(b), vec(c), vec(d))
}

// tripleSign is the sign of u . (v x w).
func tripleSign(u, v, w [3]*big.Rat) int {
	det := new(big.Rat)
	for _, p := range [...]struct{ i, j, k, s int64 }{
		{0, 1, 2, 1}, {1, 2, 0, 1}, {2, 0, 1, 1}, {2, 1, 0, -1}, {1, 0, 2, -1}, {0, 2, 1, -1},
	} {
		t := new(big.Rat).Mul(u[p.i], v[p.j])
		t.Mul(t, w[p.k])
		det.Add(det, t.Mul(t, new(big.Rat).SetInt64(p.s)))
	}
	return det.Sign()
}

func reference2(ax, ay, bx, by, cx, cy float64) int {
	return reference3(r3.Vector{X: ax, Y: ay}, r3.Vector{X: bx, Y: by}, r3.Vector{X: cx, Y: cy}, r3.Vector{X: ax, Y: ay, Z: 1})
}

func randomVector(r *rand.Rand, scale float64) r3.Vector {
	return r3.Vector{X: scale * (2*r.Float64() - 1), Y: scale * (2*r.Float64() - 1), Z: scale * (2*r.Float64() - 1)}
}

func roundTo32(v r3.Vector) r3.Vector {
	return r3.Vector{X: float64(float32(v.X)), Y: float64(float32(v.Y)), Z: float64(float32(v.Z))}
}

// near returns a point in the plane of a, b, c up to rounding, then a few units in the last place off.
func near(r *rand.Rand, a, b, c r3.Vector) r3.Vector {
	u, v := 3*r.Float64()-1, 3*r.Float64()-1
	d := a.Add(b.Sub(a).Mul(u)).Add(c.Sub(a).Mul(v))
	for range r.IntN(3) {
		d.Z = math.Nextafter(d.Z, float64(r.IntN(3)-1)*math.MaxFloat64)
	}
	return d
}

func TestOrient3DAgainstRationals(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	zeros := 0
	for i := range 8000 {
		scale := math.Ldexp(1, r.IntN(40)-20)
		a, b, c := randomVector(r, scale), randomVector(r, scale), randomVector(r, 1)
		d := randomVector(r, scale)
		switch i % 5 {
		case 1:
			d = near(r, a, b, c)
		case 2: // as in a file: single precision, on a coarse grid, so that exact zeros come up
			a, b, c, d = roundTo32(a), roundTo32(b), roundTo32(c), roundTo32(near(r, a, b, c))
		case 3:
			g := func(v r3.Vector) r3.Vector {
				return r3.Vector{X: math.Round(8 * v.X), Y: math.Round(8 * v.Y), Z: math.Round(8 * v.Z)}
			}
			a, b, c, d = g(a), g(b), g(c), g(d)
		case 4: // a needle far from the origin
			o := randomVector(r, 1e3)
			a, b = o, o.Add(randomVector(r, 1e-9))
			d = near(r, a, b, c)
		}
		got, want := Orient3D(a, b, c, d), reference3(a, b, c, d)
		if got != want {
			t.Fatalf("case %d: Orient3D(%v, %v, %v, %v) = %d, want %d", i, a, b, c, d, got, want)
		}
		if want == 0 {
			zeros++
		}
	}
	if zeros < 50 {
		t.Errorf("only %d exact zeros among the cases: the exact path was hardly used", zeros)
	}
}

func TestOrient3DSenseAndSymmetry(t *testing.T) {
	a, b, c := r3.Vector{X: 0, Y: 0, Z: 0}, r3.Vector{X: 1, Y: 0, Z: 0}, r3.Vector{X: 0, Y: 1, Z: 0}
	if got := Orient3D(a, b, c, r3.Vector{X: 5, Y: 5, Z: 1e-300}); got != 1 {
		t.Errorf("a point a hair above a counterclockwise facet: %d, want 1", got)
	}
	r := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		p := [4]r3.Vector{randomVector(r, 1), randomVector(r, 1), randomVector(r, 1)}
		p[3] = near(r, p[0], p[1], p[2])
		s := Orient3D(p[0], p[1], p[2], p[3])
		if q := Orient3D(p[1], p[0], p[2], p[3]); q != -s {
			t.Fatalf("swapping two points: %d after %d", q, s)
		}
		if q := Orient3D(p[1], p[2], p[0], p[3]); q != s {
			t.Fatalf("turning three points: %d after %d", q, s)
		}
		if q := Orient3D(p[0], p[1], p[3], p[2]); q != -s {
			t.Fatalf("swapping the last two: %d after %d", q, s)
		}
	}
}

func TestOrientExtremes(t *testing.T) {
	// Differences of 1e-200 and 1e150: products leave the range of doubles.
	for _, k := range []float64{1e-320, 1e-200, 1e-100, 1, 1e90, 1e150, 1e300} {
		a, b, c := r3.Vector{}, r3.Vector{X: k}, r3.Vector{Y: k}
		for _, z := range []float64{-k, -1e-310, 0, 1e-310, k} {
			d := r3.Vector{X: 0.3 * k, Y: 0.3 * k, Z: z}
			if got, want := Orient3D(a, b, c, d), reference3(a, b, c, d); got != want {
				t.Errorf("size %g, height %g: %d, want %d", k, z, got, want)
			}
		}
		if got := Orient2D(0, 0, k, 0, 0, k); got != 1 {
			t.Errorf("size %g: Orient2D = %d, want 1", k, got)
		}
	}
	nan := r3.Vector{X: math.NaN(), Y: math.Inf(1)}
	if got := Orient3D(nan, r3.Vector{X: 1}, r3.Vector{Y: 1}, nan); got != 0 {
		t.Errorf("not-a-number: %d, want 0", got)
	}
}

func TestOrientRayAgainstRationals(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	for i := range 3000 {
		o, a, b := randomVector(r, 10), randomVector(r, 10), randomVector(r, 10)
		o, a, b = roundTo32(o), roundTo32(a), roundTo32(b)
		if i%50 == 0 {
			o, a, b = o.Mul(1e160), a.Mul(1e160), b.Mul(1e160)
		}
		d := a.Sub(o).Mul(0.5).Add(b.Sub(o).Mul(0.25)) // in the plane of ray and edge, up to rounding
		if i%3 == 0 {
			d = a.Sub(o) // at the corner, where single precision leaves the difference exact
		}
		want := tripleSign(exacttest.Of(d), exacttest.Of(a).Minus(exacttest.Of(o)), exacttest.Of(b).Minus(exacttest.Of(o)))
		if got := OrientRay(o, d, a, b); got != want {
			t.Fatalf("case %d: OrientRay(%v, %v, %v, %v) = %d, want %d", i, o, d, a, b, got, want)
		}
		if got := OrientRay(o, d, b, a); got != -want {
			t.Fatalf("case %d: the edge run through the other way gives %d, want %d", i, got, -want)
		}
	}
}

func TestOrient2DAgainstRationals(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for i := range 8000 {
		a, b, c := randomVector(r, 10), randomVector(r, 10), randomVector(r, 10)
		if i%2 == 1 {
			c = near(r, a, b, b)
			c.X = math.Nextafter(c.X, float64(r.IntN(3)-1)*math.MaxFloat64)
		}
		got, want := Orient2D(a.X, a.Y, b.X, b.Y, c.X, c.Y), reference2(a.X, a.Y, b.X, b.Y, c.X, c.Y)
		if got != want {
			t.Fatalf("case %d: Orient2D(%v, %v, %v) = %d, want %d", i, a, b, c, got, want)
		}
	}
}

// The classic grid around (0.5, 0.5): a naive determinant gets a good part of it wrong.
func TestOrient2DGrid(t *testing.T) {
	ulp := 0x1p-53
	for i := range 48 {
		for j := range 48 {
			x, y := 0.5+float64(i)*ulp, 0.5+float64(j)*ulp
			if got, want := Orient2D(x, y, 12, 12, 24, 24), reference2(x, y, 12, 12, 24, 24); got != want {
				t.Fatalf("grid point %d, %d: %d, want %d", i, j, got, want)
			}
		}
	}
}

func BenchmarkOrient3D(b *testing.B) {
	r := rand.New(rand.NewPCG(7, 8))
	p := [4]r3.Vector{randomVector(r, 10), randomVector(r, 10), randomVector(r, 10), randomVector(r, 10)}
	q := p
	q[3] = near(r, p[0], p[1], p[2])
	f := [4]r3.Vector{roundTo32(p[0]), roundTo32(p[1]), roundTo32(p[2]), roundTo32(p[0])}
	f[3] = roundTo32(p[0].Add(p[1].Sub(p[0])))
	for _, c := range []struct {
		name string
		p    [4]r3.Vector
	}{{"clear", p}, {"near", q}, {"near32", f}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for range b.N {
				Orient3D(c.p[0], c.p[1], c.p[2], c.p[3])
			}
		})
	}
}
