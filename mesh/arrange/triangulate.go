package arrange

import (
	"errors"
	"math"
)

// errSpecial says that points of a facet are not in general position.
var errSpecial = errors.New("points in special position")

// wall marks the sides of a facet among constraint tags; tags 0 and up are segments.
const (
	free int32 = -2
	wall int32 = -1
)

// piece is a triangle of a divided facet: points counterclockwise; across the
// side opposite to corner k lie neighbour n[k] and the constraint tag[k].
type piece struct {
	v, n, tag [3]int32
}

// triangulation divides one facet so that given points are corners and given
// segments are sides. Orientation is exact; the choice among the possible
// triangulations follows the empty-circle rule in floating point, which only affects shape.
type triangulation struct {
	pts    []*point
	lines  [][2]int32   // of each point, two lines that it lies on by its making, or none
	uv     [][2]float64 // distances from the first corner in the facet's plane, grid units
	i, j   int          // axes of projection, in the order that keeps the facet counterclockwise
	pieces []piece
	at     []int32 // a piece with the point as corner
	last   int32
	stack  []int32 // pieces to look at
	big    scratch
}

// turn returns the sign of the turn a, b, c, seen from the facet's front. Points
// of one side or one segment lie on a line, which the exact sum need not find out.
func (t *triangulation) turn(a, b, c int32) int {
	p, q, r := t.pts[a], t.pts[b], t.pts[c]
	if s := turnFloat(p, q, r, t.i, t.j); s != 0 {
		return s
	}
	for _, l := range t.lines[a] {
		if l != none && on(t.lines[b], l) && on(t.lines[c], l) {
			return 0
		}
	}
	return t.big.turnExact(p, q, r, t.i, t.j)
}

// none takes the place of a line's number.
const none int32 = -1

func on(lines [2]int32, l int32) bool { return lines[0] == l || lines[1] == l }

// newTriangulation starts with the facet itself, whose corners are the first three points.
func newTriangulation(pts []*point, lines [][2]int32, pl *plane) (*triangulation, error) {
	t := &triangulation{pts: pts, lines: lines, at: make([]int32, len(pts))}
	k := 0
	for d := 1; d < 3; d++ {
		if math.Abs(pl.nf[d]) > math.Abs(pl.nf[k]) {
			k = d
		}
	}
	t.i, t.j = (k+1)%3, (k+2)%3
	if pl.n[k].Sign() < 0 {
		t.i, t.j = t.j, t.i
	}
	if t.turn(0, 1, 2) <= 0 {
		return nil, errSpecial
	}
	t.flatten(pl)
	t.pieces = make([]piece, 1, 2*len(pts)) // a point more makes two pieces more at most
	t.pieces[0] = piece{v: [3]int32{0, 1, 2}, n: [3]int32{-1, -1, -1}, tag: [3]int32{wall, wall, wall}}
	for i := int32(3); i < int32(len(pts)); i++ {
		if err := t.insert(i); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// flatten enters plane coordinates for the empty-circle rule.
func (t *triangulation) flatten(pl *plane) {
	o, x := t.pts[0].at, t.pts[1].at
	var e1, n [3]float64
	var l1, ln float64
	for k := range 3 {
		e1[k] = x[k] - o[k]
		l1 += e1[k] * e1[k]
		ln += pl.nf[k] * pl.nf[k]
	}
	l1, ln = math.Sqrt(l1), math.Sqrt(ln)
	for k := range 3 {
		e1[k] /= l1
		n[k] = pl.nf[k] / ln
	}
	e2 := [3]float64{n[1]*e1[2] - n[2]*e1[1], n[2]*e1[0] - n[0]*e1[2], n[0]*e1[1] - n[1]*e1[0]}
	t.uv = make([][2]float64, len(t.pts))
	for i, p := range t.pts {
		for k := range 3 {
			t.uv[i][0] += (p.at[k] - o[k]) * e1[k]
			t.uv[i][1] += (p.at[k] - o[k]) * e2[k]
		}
	}
}

// insert adds point p.
func (t *triangulation) insert(p int32) error {
	f, zero, err := t.locate(p)
	if err != nil {
		return err
	}
	if zero < 0 {
		t.splitPiece(f, p)
	} else {
		t.splitSide(f, zero, p)
	}
	t.legalise(p)
	return nil
}

// locate walks to the piece that holds p; zero is the side p lies on, or -1.
func (t *triangulation) locate(p int32) (f int32, zero int, err error) {
	f = t.last
	from := int32(-1)
	for range 4*len(t.pieces) + 16 {
		q := &t.pieces[f]
		zero = -1
		zeros, next := 0, int32(-1)
		for k := range 3 {
			if q.n[k] == from && from >= 0 {
				continue // came from there
			}
			switch t.turn(q.v[(k+1)%3], q.v[(k+2)%3], p) {
			case -1:
				next = q.n[k]
				if next < 0 {
					return 0, 0, errSpecial // outside the facet
				}
			case 0:
				zero = k
				zeros++
			}
			if next >= 0 {
				break
			}
		}
		if next >= 0 {
			from, f = f, next
			continue
		}
		if zeros > 1 {
			return 0, 0, errSpecial // on another point
		}
		t.last = f
		return f, zero, nil
	}
	return t.search(p)
}

// search looks at every piece: the walk can go in circles.
func (t *triangulation) search(p int32) (int32, int, error) {
	for f := range t.pieces {
		q := &t.pieces[f]
		zero, zeros, in := -1, 0, true
		for k := range 3 {
			s := t.turn(q.v[(k+1)%3], q.v[(k+2)%3], p)
			in = in && s >= 0
			if s == 0 {
				zero = k
				zeros++
			}
		}
		if in && zeros < 2 {
			return int32(f), zero, nil
		}
	}
	return 0, 0, errSpecial
}

// splitPiece divides piece f at its inner point p and puts the pieces around p on the stack.
func (t *triangulation) splitPiece(f, p int32) {
	q := t.pieces[f]
	g, h := int32(len(t.pieces)), int32(len(t.pieces)+1)
	ids := [3]int32{f, g, h}
	t.pieces = append(t.pieces, piece{}, piece{})
	for k := range 3 {
		// ids[k] keeps the side opposite to corner k, with p in place of that corner.
		a, b := (k+1)%3, (k+2)%3
		t.pieces[ids[k]] = piece{
			v:   [3]int32{p, q.v[a], q.v[b]},
			n:   [3]int32{q.n[k], ids[a], ids[b]},
			tag: [3]int32{q.tag[k], free, free},
		}
		t.relink(q.n[k], f, ids[k])
		t.at[q.v[a]], t.at[q.v[b]] = ids[k], ids[k]
	}
	t.at[p] = f
	t.stack = append(t.stack[:0], ids[:]...)
}

// splitSide divides the side opposite to corner k of piece f at p, with the
// piece beyond it, and puts the pieces around p on the stack.
func (t *triangulation) splitSide(f int32, k int, p int32) {
	q := t.pieces[f]
	a, b, c := q.v[k], q.v[(k+1)%3], q.v[(k+2)%3] // p lies on b-c
	tag, far := q.tag[k], q.n[k]
	g := int32(len(t.pieces))
	t.pieces = append(t.pieces, piece{})
	// f becomes p, a, b; g becomes p, c, a.
	t.pieces[f] = piece{v: [3]int32{p, a, b}, n: [3]int32{q.n[(k+2)%3], far, g}, tag: [3]int32{q.tag[(k+2)%3], tag, free}}
	t.pieces[g] = piece{v: [3]int32{p, c, a}, n: [3]int32{q.n[(k+1)%3], f, far}, tag: [3]int32{q.tag[(k+1)%3], free, tag}}
	t.relink(q.n[(k+1)%3], f, g)
	t.at[p], t.at[a], t.at[b], t.at[c] = f, f, f, g
	if far < 0 {
		t.stack = append(t.stack[:0], f, g)
		return
	}
	r := t.pieces[far]
	m := 0
	for r.n[m] != f {
		m++
	}
	d := r.v[m] // r is d, c, b
	h := int32(len(t.pieces))
	t.pieces = append(t.pieces, piece{})
	// far becomes p, b, d; h becomes p, d, c.
	t.pieces[far] = piece{v: [3]int32{p, b, d}, n: [3]int32{r.n[(m+1)%3], h, f}, tag: [3]int32{r.tag[(m+1)%3], free, tag}}
	t.pieces[h] = piece{v: [3]int32{p, d, c}, n: [3]int32{r.n[(m+2)%3], g, far}, tag: [3]int32{r.tag[(m+2)%3], tag, free}}
	t.relink(r.n[(m+2)%3], far, h)
	t.pieces[f].n[1] = far
	t.pieces[g].n[2] = h
	t.at[d], t.at[c], t.at[b] = far, g, far
	t.stack = append(t.stack[:0], f, g, far, h)
}

// relink makes piece f see new where it saw old.
func (t *triangulation) relink(f, old, new int32) {
	if f < 0 {
		return
	}
	for k := range 3 {
		if t.pieces[f].n[k] == old {
			t.pieces[f].n[k] = new
			return
		}
	}
}

// corner returns which corner of piece f is point p.
func (t *triangulation) corner(f, p int32) int {
	for k := range 3 {
		if t.pieces[f].v[k] == p {
			return k
		}
	}
	return -1
}

// legalise flips the sides opposite to p, of the pieces on the stack and those
// that flips make, while the circle rule asks for it.
func (t *triangulation) legalise(p int32) {
	for n := 0; len(t.stack) > 0 && n < 64*len(t.pieces)+256; n++ {
		f := t.stack[len(t.stack)-1]
		t.stack = t.stack[:len(t.stack)-1]
		k := t.corner(f, p)
		if k < 0 {
			continue
		}
		if g := t.pieces[f].n[k]; g >= 0 && t.wantsFlip(f, k) && t.flip(f, k) {
			t.stack = append(t.stack, f, g)
		}
	}
}

// opposite returns the corner of the piece beyond side k of f that is not on that side.
func (t *triangulation) opposite(f int32, k int) (g int32, m int) {
	g = t.pieces[f].n[k]
	for m = range 3 {
		if t.pieces[g].n[m] == f && t.pieces[g].v[(m+1)%3] == t.pieces[f].v[(k+2)%3] {
			break
		}
	}
	return g, m
}

// wantsFlip applies the empty-circle rule to side k of piece f.
func (t *triangulation) wantsFlip(f int32, k int) bool {
	q := &t.pieces[f]
	if q.n[k] < 0 || q.tag[k] != free {
		return false
	}
	g, m := t.opposite(f, k)
	d := t.uv[t.pieces[g].v[m]]
	var x, y, w [3]float64
	for i := range 3 {
		c := t.uv[q.v[i]]
		x[i], y[i] = c[0]-d[0], c[1]-d[1]
		w[i] = x[i]*x[i] + y[i]*y[i]
	}
	det := w[0]*(x[1]*y[2]-x[2]*y[1]) + w[1]*(x[2]*y[0]-x[0]*y[2]) + w[2]*(x[0]*y[1]-x[1]*y[0])
	mag := w[0]*(math.Abs(x[1]*y[2])+math.Abs(x[2]*y[1])) + w[1]*(math.Abs(x[2]*y[0])+math.Abs(x[0]*y[2])) + w[2]*(math.Abs(x[0]*y[1])+math.Abs(x[1]*y[0]))
	// A clear gain only: otherwise rounding could flip there and back for ever.
	return det > 1e-9*mag
}

// flip exchanges the diagonal opposite to corner k of f when the four corners
// are strictly convex, and tells whether it did.
func (t *triangulation) flip(f int32, k int) bool {
	g, m := t.opposite(f, k)
	q, r := t.pieces[f], t.pieces[g]
	a, b, c, d := q.v[k], q.v[(k+1)%3], q.v[(k+2)%3], r.v[m]
	if t.turn(a, b, d) <= 0 || t.turn(a, d, c) <= 0 {
		return false
	}
	// q is a, b, c; r is d, c, b. Afterwards f is a, b, d and g is a, d, c.
	ab, ca := (k+2)%3, (k+1)%3 // sides of q opposite to c and to b
	bd, dc := (m+1)%3, (m+2)%3 // sides of r opposite to c and to b
	t.pieces[f] = piece{v: [3]int32{a, b, d}, n: [3]int32{r.n[bd], g, q.n[ab]}, tag: [3]int32{r.tag[bd], free, q.tag[ab]}}
	t.pieces[g] = piece{v: [3]int32{a, d, c}, n: [3]int32{r.n[dc], q.n[ca], f}, tag: [3]int32{r.tag[dc], q.tag[ca], free}}
	t.relink(r.n[bd], g, f)
	t.relink(q.n[ca], f, g)
	t.at[a], t.at[b], t.at[d], t.at[c] = f, f, f, g
	return true
}
