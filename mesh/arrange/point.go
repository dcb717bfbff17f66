package arrange

import (
	"math"
	"math/big"

	"github.com/golang/geo/r3"
)

// point is an exact point: the quotient num/den in grid units, den > 0, beside
// its nearest float64 values.
type point struct {
	num [3]big.Int
	den big.Int
	at  [3]float64 // grid units, each within approxErr relative
}

// approxErr bounds the relative error of point.at: two conversions and a division.
const approxErr = 3 * 0x1p-53

// plane is the exact plane n.x = d through a facet, in grid units; n points to
// the facet's front.
type plane struct {
	n [3]big.Int
	d big.Int

	nf [3]float64 // nearest values of n and d
	df float64
}

func gridPoint(v r3.Vector) [3]int64 { return [3]int64{gridInt(v.X), gridInt(v.Y), gridInt(v.Z)} }

func explicitPoint(v r3.Vector) *point {
	g := gridPoint(v)
	p := &point{}
	for k := range 3 {
		p.num[k].SetInt64(g[k])
		p.at[k] = float64(g[k])
	}
	p.den.SetInt64(1)
	return p
}

// finish makes the denominator positive and enters the float64 values. It
// tells whether the point exists.
func (p *point) finish() bool {
	switch p.den.Sign() {
	case 0:
		return false
	case -1:
		p.den.Neg(&p.den)
		for k := range 3 {
			p.num[k].Neg(&p.num[k])
		}
	}
	w, _ := p.den.Float64()
	for k := range 3 {
		x, _ := p.num[k].Float64()
		p.at[k] = x / w
	}
	return true
}

// vector returns the point in mm.
func (p *point) vector() r3.Vector {
	return r3.Vector{X: p.at[0] / unitsPerMM, Y: p.at[1] / unitsPerMM, Z: p.at[2] / unitsPerMM}
}

func newPlane(a, b, c r3.Vector) *plane {
	ga, gb, gc := gridPoint(a), gridPoint(b), gridPoint(c)
	var u, v [3]int64
	for k := range 3 {
		u[k], v[k] = gb[k]-ga[k], gc[k]-ga[k]
	}
	pl := &plane{n: crossInt(u, v)}
	var t, x big.Int
	for k := range 3 {
		pl.d.Add(&pl.d, t.Mul(&pl.n[k], x.SetInt64(ga[k])))
		pl.nf[k], _ = pl.n[k].Float64()
	}
	pl.df, _ = pl.d.Float64()
	return pl
}

// side returns the sign of n.p - d: positive in front of the facet.
func (pl *plane) side(p *point) int {
	x, y, z := float64(pl.nf[0]*p.at[0]), float64(pl.nf[1]*p.at[1]), float64(pl.nf[2]*p.at[2])
	v := x + y + z - pl.df
	// Each product carries the errors of both factors and its own, the sums three more of the total.
	if bound := 16 * 0x1p-53 * (math.Abs(x) + math.Abs(y) + math.Abs(z) + math.Abs(pl.df)); v > bound {
		return 1
	} else if v < -bound {
		return -1
	}
	var sum, t big.Int
	sum.Mul(&pl.d, &p.den).Neg(&sum)
	for k := range 3 {
		sum.Add(&sum, t.Mul(&pl.n[k], &p.num[k]))
	}
	return sum.Sign()
}

// edgePoint returns the point in which the line p, q meets the plane.
func edgePoint(pl *plane, p, q r3.Vector) (*point, bool) {
	gp, gq := gridPoint(p), gridPoint(q)
	var sp, sq, t, x big.Int
	sp.Neg(&pl.d)
	sq.Neg(&pl.d)
	for k := range 3 {
		sp.Add(&sp, t.Mul(&pl.n[k], x.SetInt64(gp[k])))
		sq.Add(&sq, t.Mul(&pl.n[k], x.SetInt64(gq[k])))
	}
	r := &point{}
	r.den.Sub(&sq, &sp)
	for k := range 3 {
		r.num[k].Mul(&sq, x.SetInt64(gp[k]))
		r.num[k].Sub(&r.num[k], t.Mul(&sp, x.SetInt64(gq[k])))
	}
	return r, r.finish()
}

// triplePoint returns the point common to three planes.
func triplePoint(a, b, c *plane) (*point, bool) {
	bc, ca, ab := crossBig(&b.n, &c.n), crossBig(&c.n, &a.n), crossBig(&a.n, &b.n)
	r := &point{}
	var t big.Int
	for k := range 3 {
		r.den.Add(&r.den, t.Mul(&a.n[k], &bc[k]))
		r.num[k].Mul(&a.d, &bc[k])
		r.num[k].Add(&r.num[k], t.Mul(&b.d, &ca[k]))
		r.num[k].Add(&r.num[k], t.Mul(&c.d, &ab[k]))
	}
	return r, r.finish()
}

func crossBig(a, b *[3]big.Int) (n [3]big.Int) {
	var s, t big.Int
	for k := range 3 {
		i, j := (k+1)%3, (k+2)%3
		n[k].Sub(s.Mul(&a[i], &b[j]), t.Mul(&a[j], &b[i]))
	}
	return n
}

// turnFloat returns the sign of the turn a, b, c projected on axes i and j, or 0
// where only exact arithmetic can tell.
func turnFloat(a, b, c *point, i, j int) int {
	bi, bj := b.at[i]-a.at[i], b.at[j]-a.at[j]
	ci, cj := c.at[i]-a.at[i], c.at[j]-a.at[j]
	p, q := float64(bi*cj), float64(bj*ci)
	det := p - q
	// e bounds the error of one difference: both ends within approxErr, and its own rounding.
	mi := max(math.Abs(a.at[i]), math.Abs(b.at[i]), math.Abs(c.at[i]))
	mj := max(math.Abs(a.at[j]), math.Abs(b.at[j]), math.Abs(c.at[j]))
	ei, ej := 4*approxErr*mi, 4*approxErr*mj
	bound := ei*(math.Abs(bj)+math.Abs(cj)) + ej*(math.Abs(bi)+math.Abs(ci)) + 2*ei*ej + 4*0x1p-53*(math.Abs(p)+math.Abs(q))
	if det > bound {
		return 1
	} else if det < -bound {
		return -1
	}
	return 0
}

// scratch holds numbers that keep their memory from one sum to the next.
type scratch struct{ s, t, u, m, sum big.Int }

// turnExact is turnFloat without doubt: 0 says that the points lie on a line.
func (x *scratch) turnExact(a, b, c *point, i, j int) int {
	// det of the rows (num_i, num_j, den); all denominators are positive.
	minor := func(p, q *point) *big.Int {
		return x.m.Sub(x.s.Mul(&p.num[i], &q.num[j]), x.t.Mul(&p.num[j], &q.num[i]))
	}
	x.sum.Mul(minor(b, c), &a.den)
	x.sum.Add(&x.sum, x.u.Mul(minor(c, a), &b.den))
	x.sum.Add(&x.sum, x.u.Mul(minor(a, b), &c.den))
	return x.sum.Sign()
}

// compare orders two points along axis k.
func compare(a, b *point, k int) int {
	d := a.at[k] - b.at[k]
	if bound := 4 * approxErr * max(math.Abs(a.at[k]), math.Abs(b.at[k])); d > bound {
		return 1
	} else if d < -bound {
		return -1
	}
	var s, t big.Int
	return s.Mul(&a.num[k], &b.den).Cmp(t.Mul(&b.num[k], &a.den))
}
