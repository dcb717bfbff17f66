package field

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// ellipsoid returns the ellipsoid of semi-axes a, b, c with corners on the surface.
func ellipsoid(a, b, c float64, level int) *mesh.Mesh {
	return solid.Map(solid.Icosphere(1, level), func(v r3.Vector) r3.Vector {
		return r3.Vector{X: a * v.X, Y: b * v.Y, Z: c * v.Z}
	})
}

func TestTriangleLayersMatchQuadrature(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	v := func(s float64) r3.Vector {
		return r3.Vector{X: s * (rng.Float64() - 0.5), Y: s * (rng.Float64() - 0.5), Z: s * (rng.Float64() - 0.5)}
	}
	for range 50 {
		a, b, c := v(1), v(1), v(1)
		x := a.Add(b).Add(c).Mul(1. / 3).Add(v(1).Normalize().Mul(1.5))
		got, gotAngle := layers(x, a, b, c)
		// 4^5 sub-triangles of seven points: far better than the 1e-9 asked for.
		want, wantAngle := 0.0, 0.0
		var sub func(a, b, c r3.Vector, depth int)
		sub = func(a, b, c r3.Vector, depth int) {
			if depth > 0 {
				ab, bc, ca := a.Add(b).Mul(0.5), b.Add(c).Mul(0.5), c.Add(a).Mul(0.5)
				sub(a, ab, ca, depth-1)
				sub(ab, b, bc, depth-1)
				sub(ca, bc, c, depth-1)
				sub(ab, bc, ca, depth-1)
				return
			}
			q := piece{a: a, b: b, c: c}
			av := q.areaVector()
			for _, n := range rule7 {
				d := x.Sub(n.at(a, b, c))
				want += n.weight * av.Norm() / d.Norm()
				wantAngle += n.weight * av.Dot(d) / math.Pow(d.Norm(), 3)
			}
		}
		sub(a, b, c, 5)
		if math.Abs(got-want) > 1e-9 || math.Abs(gotAngle-wantAngle) > 1e-9 {
			t.Fatalf("layers = %v, %v, want %v, %v", got, gotAngle, want, wantAngle)
		}
	}
}

func TestTriangleLayersInItsPlane(t *testing.T) {
	// Equilateral triangle of side s from its middle: potential s*sqrt(3)*ln(2+sqrt(3)), closed form.
	s := 2.0
	a := r3.Vector{X: -s / 2, Y: -s / (2 * math.Sqrt(3))}
	b := r3.Vector{X: s / 2, Y: -s / (2 * math.Sqrt(3))}
	c := r3.Vector{Y: s / math.Sqrt(3)}
	got, _ := layers(r3.Vector{}, a, b, c)
	if want := s * math.Sqrt(3) * math.Log(2+math.Sqrt(3)); math.Abs(got-want) > 1e-12 {
		t.Errorf("potential at the middle = %v, want %v", got, want)
	}
	// The corner of a right angle of legs 1: sqrt(2)*asinh(1), from the polar integral.
	got, _ = layers(r3.Vector{}, r3.Vector{}, r3.Vector{X: 1}, r3.Vector{Y: 1})
	if want := math.Sqrt2 * math.Asinh(1); math.Abs(got-want) > 1e-12 {
		t.Errorf("potential at the corner = %v, want %v", got, want)
	}
	// Beside an edge, in the plane: finite, and no angle.
	got, angle := layers(r3.Vector{X: 0.5, Y: -1e-9}, r3.Vector{}, r3.Vector{X: 1}, r3.Vector{Y: 1})
	if math.IsNaN(got) || math.IsInf(got, 0) || math.Abs(angle) > 1e-9 {
		t.Errorf("beside an edge: %v, %v", got, angle)
	}
}

func TestHarmonicsShiftAndEvaluate(t *testing.T) {
	const p = 14
	at := r3.Vector{X: 0.11, Y: -0.07, Z: 0.09} // charge and dipole
	dip := r3.Vector{X: 0.3, Y: -0.5, Z: 0.2}
	mid := r3.Vector{X: 0.05, Y: 0.1, Z: -0.02}
	far := r3.Vector{X: 2, Y: 1.5, Z: -1}
	far2 := r3.Vector{X: 2.1, Y: 1.45, Z: -0.9}
	x := r3.Vector{X: 2.15, Y: 1.35, Z: -0.95}

	r, m0, m1, s := newHarmonic(p), newHarmonic(p), newHarmonic(p), newHarmonic(p)
	r.regular(p, at)
	m0.addFar(p, r, 1.5, dip)
	r.regular(p, r3.Vector{}.Sub(mid))
	m1.shiftMoments(p, m0, r)
	m1.mirror(p)
	l0, l1 := newHarmonic(p), newHarmonic(p)
	s.irregular(p, far.Sub(mid))
	l0.addLocal(p, m1, s)
	l0.signLocal(p)
	r.regular(p, far2.Sub(far))
	l1.shiftLocal(p, l0, r)
	l1.mirror(p)
	r.regular(p, x.Sub(far2))
	var got float64
	for i := range r.re {
		got += l1.re[i]*r.re[i] + l1.im[i]*r.im[i]
	}
	d := x.Sub(at)
	want := 1.5/d.Norm() + dip.Dot(d)/math.Pow(d.Norm(), 3)
	// The cut at degree 14 leaves (0.4/2.7)^15, far below 1e-8.
	if math.Abs(got-want) > 1e-8 {
		t.Errorf("potential = %.12f, want %.12f", got, want)
	}
}

// denseApply is the plain double sum in closed form, no expansions, no points.
func denseApply(ps []panel, x []float64) []float64 {
	y := make([]float64, len(ps))
	for i := range ps {
		for j := range ps {
			own := -1
			if i == j {
				own = ps[j].tests[0].piece
			}
			var v, k float64
			for n := range ps[j].pieces {
				q := &ps[j].pieces[n]
				a, b := layers(ps[i].at, q.a, q.b, q.c)
				v += a
				if n != own {
					k += b
				}
			}
			y[i] += (v - ps[j].length*k) * invFourPi * x[j]
			if i == j {
				y[i] += ps[i].length / 2 * x[j]
			}
		}
	}
	return y
}

func TestFastSumsMatchPlainSums(t *testing.T) {
	m := ellipsoid(3, 1, 0.5, 3)
	for _, length := range []float64{0, 0.7} {
		ps := asMeshed(m, nil).panels()
		for i := range ps {
			ps[i].length = length
		}
		tr := newTree(ps)
		x := make([]float64, len(ps))
		rng := rand.New(rand.NewPCG(3, 4))
		for i := range x {
			x[i] = 0.5 + rng.Float64()
		}
		want := denseApply(ps, x)
		for _, c := range []struct {
			degree int
			most   float64
		}{{6, 5e-4}, {10, 2e-5}, {14, 5e-6}} {
			o, err := newOperator(context.Background(), ps, tr, c.degree, 2)
			if err != nil {
				t.Fatal(err)
			}
			got := make([]float64, len(ps))
			if err := o.apply(context.Background(), x, got); err != nil {
				t.Fatal(err)
			}
			var worst, sum float64
			for i := range got {
				worst = max(worst, math.Abs(got[i]-want[i]))
				sum = max(sum, math.Abs(want[i]))
			}
			t.Logf("L=%v degree %d: worst error %.2e of the largest, %d near entries a panel", length, c.degree, worst/sum, o.kept/len(ps))
			if worst/sum > c.most {
				t.Errorf("L=%v degree %d: worst error %.2e of the largest, want at most %.0e", length, c.degree, worst/sum, c.most)
			}
		}
	}
}
