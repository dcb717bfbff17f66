package removal

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"

	"skinstock/offset/recipe"
	"skinstock/region"
)

// table is measured roughness against inclination, one curve facing up and one
// facing down.
type table struct {
	up, down *curve
}

func newTable(r *recipe.Recipe) (*table, error) {
	up, err := newCurve(&r.Roughness, r.Roughness.Table.Up)
	if err != nil {
		return nil, fmt.Errorf("upward table: %w", err)
	}
	down, err := newCurve(&r.Roughness, r.Roughness.Table.Down)
	if err != nil {
		return nil, fmt.Errorf("downward table: %w", err)
	}
	return &table{up, down}, nil
}

func (t *table) At(_ region.Skin, deg float64) Surface {
	if deg <= 90 {
		return t.up.at(deg)
	}
	return t.down.at(180 - deg)
}

func (t *table) Continuous() bool { return true }

// curve runs through the rows of a table by monotone piecewise cubics
// (Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300): between two
// rows it stays between their values, and it is as smooth as that allows.
type curve struct {
	lo, hi                   float64 // degrees of the first and last row
	ra, rp, rv, over, length interp.FritschButland
	hasLength                bool
}

func newCurve(r *recipe.Roughness, rows []recipe.TableRow) (*curve, error) {
	n := len(rows)
	if n < 2 {
		return nil, fmt.Errorf("%d rows are too few to read between", n)
	}
	x, ra, rp, rv, over, length := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	c := &curve{lo: rows[0].Deg.Value, hi: rows[n-1].Deg.Value, hasLength: true}
	for i, w := range rows {
		s := heights(r, w.Row)
		x[i], ra[i], rp[i], rv[i], over[i], length[i] = w.Deg.Value, s.RaUM, s.RpUM, s.RvUM, s.OversizeUM, s.WavelengthUM
		if i > 0 && x[i] <= x[i-1] {
			return nil, fmt.Errorf("rows are not in order of inclination: %g deg follows %g deg", x[i], x[i-1])
		}
		c.hasLength = c.hasLength && s.WavelengthUM > 0
	}
	for _, f := range []struct {
		fit *interp.FritschButland
		y   []float64
	}{{&c.ra, ra}, {&c.rp, rp}, {&c.rv, rv}, {&c.over, over}, {&c.length, length}} {
		if err := f.fit.Fit(x, f.y); err != nil {
			return nil, fmt.Errorf("fitting the curve: %w", err)
		}
	}
	return c, nil
}

func (c *curve) at(deg float64) Surface {
	x := math.Min(math.Max(deg, c.lo), c.hi)
	s := Surface{
		RaUM: c.ra.Predict(x), RpUM: c.rp.Predict(x), RvUM: c.rv.Predict(x), OversizeUM: c.over.Predict(x),
		// Half a degree beyond the last row is what rounding of coupon angles leaves.
		Outside: deg < c.lo-0.5 || deg > c.hi+0.5,
	}
	s.RzUM = s.RpUM + s.RvUM
	if c.hasLength {
		s.WavelengthUM = c.length.Predict(x)
	}
	return s
}
