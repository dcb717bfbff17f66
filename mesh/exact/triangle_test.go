package exact

import (
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
)

type rvec [3]*big.Rat

func toRat(v r3.Vector) rvec {
	return rvec{new(big.Rat).SetFloat64(v.X), new(big.Rat).SetFloat64(v.Y), new(big.Rat).SetFloat64(v.Z)}
}

func (a rvec) lerp(b rvec, t *big.Rat) rvec {
	var r rvec
	for k := range r {
		d := new(big.Rat).Sub(b[k], a[k])
		r[k] = d.Add(a[k], d.Mul(d, t))
	}
	return r
}

func (a rvec) minus(b rvec) rvec {
	var r rvec
	for k := range r {
		r[k] = new(big.Rat).Sub(a[k], b[k])
	}
	return r
}

func (a rvec) dot(b rvec) *big.Rat {
	s := new(big.Rat)
	for k := range a {
		s.Add(s, new(big.Rat).Mul(a[k], b[k]))
	}
	return s
}

func (a rvec) cross(b rvec) rvec {
	var r rvec
	for k := range r {
		i, j := (k+1)%3, (k+2)%3
		r[k] = new(big.Rat).Sub(new(big.Rat).Mul(a[i], b[j]), new(big.Rat).Mul(a[j], b[i]))
	}
	return r
}

// clip is the reference: the polygon of u cut by the plane of t and by the
// three planes through t's edges across it, in rational numbers. What is left
// of u is exactly the common part.
func clip(t, u Triangle) []rvec {
	a := [3]rvec{toRat(t[0]), toRat(t[1]), toRat(t[2])}
	n := a[1].minus(a[0]).cross(a[2].minus(a[0]))
	poly := []rvec{toRat(u[0]), toRat(u[1]), toRat(u[2])}
	neg := rvec{new(big.Rat).Neg(n[0]), new(big.Rat).Neg(n[1]), new(big.Rat).Neg(n[2])}
	poly = keep(poly, a[0], n)
	poly = keep(poly, a[0], neg)
	for k := range 3 {
		poly = keep(poly, a[k], n.cross(a[(k+1)%3].minus(a[k])))
	}
	return poly
}

// keep returns the part of a convex polygon on the side n.(p-o) >= 0.
func keep(poly []rvec, o, n rvec) []rvec {
	var out []rvec
	for i, p := range poly {
		q := poly[(i+1)%len(poly)]
		dp, dq := n.dot(p.minus(o)), n.dot(q.minus(o))
		if dp.Sign() >= 0 {
			out = append(out, p)
		}
		if dp.Sign()*dq.Sign() < 0 {
			out = append(out, p.lerp(q, new(big.Rat).Quo(dp, new(big.Rat).Sub(dp, dq))))
		}
	}
	return out
}

// grid returns a point on a small integer grid, where touching and flat cases abound.
func grid(r *rand.Rand, n int) r3.Vector {
	return r3.Vector{X: float64(r.IntN(n)), Y: float64(r.IntN(n)), Z: float64(r.IntN(n))}
}

func randomTriangle(r *rand.Rand, kind int) Triangle {
	for {
		var t Triangle
		for k := range t {
			switch kind {
			case 0:
				t[k] = randomVector(r, 1)
			case 1:
				t[k] = grid(r, 4)
			default: // flat, on a tilted plane x + y + z = 6
				t[k] = grid(r, 4)
				t[k].Z = 6 - t[k].X - t[k].Y
			}
		}
		if t.Area() {
			return t
		}
	}
}

func TestMeetAgainstClipping(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	var hits [3]int
	for i := range 2400 {
		a, b := randomTriangle(r, i%3), randomTriangle(r, i%3)
		want := len(clip(a, b)) > 0
		if got := Meet(a, b); got != want {
			t.Fatalf("case %d: Meet(%v, %v) = %v, want %v", i, a, b, got, want)
		}
		if Meet(b, a) != want {
			t.Fatalf("case %d: Meet(%v, %v) differs when swapped", i, a, b)
		}
		if want {
			hits[i%3]++
		}
	}
	for k, n := range hits {
		if n < 50 || n > 750 {
			t.Errorf("kind %d: %d of 800 pairs meet: the cases do not test both answers", k, n)
		}
	}
}

func TestMeetBeyondCornerAgainstClipping(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	var hits [3]int
	for i := range 2400 {
		a, b := randomTriangle(r, i%3), randomTriangle(r, i%3)
		b[0] = a[0]
		if !b.Area() {
			continue
		}
		want := false
		v := toRat(a[0])
		for _, p := range clip(a, b) {
			d := p.minus(v)
			want = want || d.dot(d).Sign() > 0
		}
		if got := MeetBeyondCorner(a, b); got != want {
			t.Fatalf("case %d: MeetBeyondCorner(%v, %v) = %v, want %v", i, a, b, got, want)
		}
		if want {
			hits[i%3]++
		}
	}
	for k, n := range hits {
		if n < 50 {
			t.Errorf("kind %d: only %d pairs meet beyond the corner", k, n)
		}
	}
}

func TestFoldedTogetherAgainstClipping(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	var hits [3]int
	for i := range 2400 {
		a, b := randomTriangle(r, i%3), randomTriangle(r, i%3)
		b[0], b[1] = a[0], a[1]
		if !b.Area() {
			continue
		}
		// Folded together: some common point is off the shared edge's line.
		want := false
		o, e := toRat(a[0]), toRat(a[1]).minus(toRat(a[0]))
		for _, p := range clip(a, b) {
			c := p.minus(o).cross(e)
			want = want || c.dot(c).Sign() > 0
		}
		if got := FoldedTogether(a, b); got != want {
			t.Fatalf("case %d: FoldedTogether(%v, %v) = %v, want %v", i, a, b, got, want)
		}
		if want {
			hits[i%3]++
		}
	}
	if hits[0] != 0 || hits[1] < 50 || hits[2] < 50 {
		t.Errorf("folds found: %v; want none among random pairs and many on the grids", hits)
	}
}

func TestSegmentMeetsAgainstClipping(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 18))
	hits := 0
	for i := range 2000 {
		a := randomTriangle(r, 1+i%2)
		p, q := grid(r, 4), grid(r, 4)
		if i%2 == 1 {
			p.Z, q.Z = 6-p.X-p.Y, 6-q.X-q.Y
		}
		// A segment is a triangle with two corners in one for the clipper.
		want := len(clip(a, Triangle{p, q, q})) > 0
		if got := a.SegmentMeets(p, q); got != want {
			t.Fatalf("case %d: %v.SegmentMeets(%v, %v) = %v, want %v", i, a, p, q, got, want)
		}
		if want {
			hits++
		}
	}
	if hits < 100 {
		t.Errorf("only %d segments meet", hits)
	}
}

func TestCollinear(t *testing.T) {
	a, b := r3.Vector{X: 1, Y: 2, Z: 3}, r3.Vector{X: 3, Y: 6, Z: 9}
	if !Collinear(a, a, b) || !Collinear(a, b, r3.Vector{X: 2, Y: 4, Z: 6}) {
		t.Error("points in one line, or two in one place: want collinear")
	}
	if Collinear(a, b, r3.Vector{X: 2, Y: 4, Z: 6 + 1e-15}) {
		t.Error("a point one unit in the last place off the line: want not collinear")
	}
}

func BenchmarkMeet(b *testing.B) {
	r := rand.New(rand.NewPCG(19, 20))
	ts := make([]Triangle, 256)
	for i := range ts {
		ts[i] = randomTriangle(r, 0)
	}
	b.ReportAllocs()
	for i := range b.N {
		Meet(ts[i%256], ts[(i*7+1)%256])
	}
}
