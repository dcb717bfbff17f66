package exact

import (
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh/exact/exacttest"
)

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
		want := len(exacttest.Common(a, b)) > 0
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
		v := exacttest.Of(a[0])
		for _, p := range exacttest.Common(a, b) {
			d := p.Minus(v)
			want = want || d.Dot(d).Sign() > 0
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
		o, e := exacttest.Of(a[0]), exacttest.Of(a[1]).Minus(exacttest.Of(a[0]))
		for _, p := range exacttest.Common(a, b) {
			c := p.Minus(o).Cross(e)
			want = want || c.Dot(c).Sign() > 0
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
		want := len(exacttest.Common(a, Triangle{p, q, q})) > 0
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
