package calibrate

import (
	"errors"
	"fmt"
	"math"

	"skinstock/offset/recipe"
)

// ErrTooMuchMetal is returned when the coupons lost more metal than the charge can dissolve.
var ErrTooMuchMetal = errors.New("the coupons lost more metal than the charge can dissolve")

// write makes the recipe.
func (c *calibration) write(groups []*group, opt Options) error {
	r := c.base.Clone()
	r.Name = opt.Name
	if r.Name == "" {
		r.Name = c.base.Name + "-measured"
	}
	r.Note = fmt.Sprintf("%d values fitted to %d coupons; the rest as in %s", len(c.res.Parameters), len(c.coupons)+len(c.holes), c.base.Name)
	by := func(p Parameter) recipe.Quantity {
		q := recipe.MeasuredValue(round(p.Value), math.Min(round(p.half()), round(p.Value)), opt.By)
		q.Note = fmt.Sprintf("%d coupons, scatter %.1f %%, 95 %% interval %.4g to %.4g", p.Coupons, p.ScatterPct, p.Lo, p.Hi)
		return q
	}
	for _, p := range c.res.Parameters {
		switch p.Path {
		case "finish.levelling.depth_um":
			r.Finish.Levelling.Law, r.Finish.Levelling.DepthUM = recipe.LawEmpirical, by(p)
		case "finish.floor_ra_um":
			r.Finish.FloorRaUM = by(p)
		case "bath.rate_um_per_min":
			r.Bath.RateUMPerMin = by(p)
		case "bath.efficiency":
			if p.Value > 1 {
				return fmt.Errorf("%w: a current efficiency of %.0f %% (95 %% interval %.0f to %.0f); check current, minutes, area, density and valences", ErrTooMuchMetal, 100*p.Value, 100*p.Lo, 100*p.Hi)
			}
			r.Bath.Efficiency = by(p)
		case "bath.polarisation_mm":
			r.Bath.PolarisationMM = by(p)
		case "bath.current_density_a_per_cm2":
			r.Bath.CurrentDensityAPerCM2 = by(p)
		}
	}
	c.rows(r, groups, by)
	if len(r.Bath.Stages) > 0 {
		c.note("the base recipe's stages keep what they say; the fitted values stand for stages that leave theirs out")
	}
	if err := r.Validate(); err != nil {
		return fmt.Errorf("the fitted recipe does not hold: %w", err)
	}
	var err error
	if c.res.YAML, err = r.Marshal(); err != nil {
		return err
	}
	c.res.Recipe, err = recipe.Parse(r.Name+".yaml", c.res.YAML)
	return err
}

// round keeps six significant digits: more than any coupon knows.
func round(v float64) float64 {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return v
	}
	s := math.Pow(10, 5-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*s) / s
}

// rows enters the roughness: a table where both sides have two inclinations at
// least, walls counting for both; else the rows of the skins that were measured.
func (c *calibration) rows(r *recipe.Recipe, groups []*group, by func(Parameter) recipe.Quantity) {
	var up, down []recipe.TableRow
	for _, g := range groups {
		row := recipe.TableRow{Deg: recipe.MeasuredValue(g.deg, 0, ""), Row: recipe.Row{RaUM: by(g.ra)}}
		if g.rz >= 2*g.ra.Value {
			row.RzUM = recipe.MeasuredValue(round(g.rz), 0, by(g.ra).By)
		}
		wall := math.Abs(g.deg-90) <= sameAngle
		if wall {
			row.Deg.Value = 90
		}
		if !g.down || wall {
			up = append(up, row)
		}
		if g.down || wall {
			down = append([]recipe.TableRow{row}, down...) // groups run from flat top to ceiling
		}
	}
	if len(up) >= 2 && len(down) >= 2 {
		c.carryOversize(r, down)
		c.carryWavelength(up, down)
		r.Roughness.Model, r.Roughness.Table = recipe.ModelTable, recipe.Table{Up: up, Down: down, Outside: recipe.OutsideClamp}
		r.Roughness.Classes = recipe.Classes{}
		return
	}
	if len(groups) > 0 {
		c.classes(r, groups, by)
	}
}

// carryOversize keeps the base recipe's oversize of downskins, which coupons do not give.
func (c *calibration) carryOversize(r *recipe.Recipe, down []recipe.TableRow) {
	base := r.Roughness.Classes.Downskin
	if base == nil || c.base.Roughness.Model != recipe.ModelClasses || base.OversizeUM.Value == 0 {
		return
	}
	for i := range down {
		if down[i].Deg.Value < c.base.Geometry.VerticalFromDeg.Value {
			down[i].OversizeUM = base.OversizeUM
		}
	}
	c.note("oversize of downskins: %.4g um as in the base recipe; coupons do not tell", base.OversizeUM.Value)
}

// carryWavelength keeps the pitch of the base recipe's skins, which coupons do not give.
func (c *calibration) carryWavelength(up, down []recipe.TableRow) {
	k := c.base.Roughness.Classes
	if c.base.Roughness.Model != recipe.ModelClasses {
		return
	}
	for _, side := range []struct {
		rows []recipe.TableRow
		row  *recipe.Row
	}{{up, k.Upskin}, {down, k.Downskin}} {
		for i := range side.rows {
			from := side.row
			if side.rows[i].Deg.Value >= c.base.Geometry.VerticalFromDeg.Value {
				from = k.Vertical
			}
			side.rows[i].WavelengthUM = from.WavelengthUM
		}
	}
}

// classes enters the roughest group of each skin, so that none is planned too smooth.
func (c *calibration) classes(r *recipe.Recipe, groups []*group, by func(Parameter) recipe.Quantity) {
	if r.Roughness.Model != recipe.ModelClasses {
		c.note("roughness as built: too few inclinations for a table; the base recipe's %s stays", r.Roughness.Model)
		return
	}
	rows := []struct {
		name string
		row  *recipe.Row
		in   func(*group) bool
	}{
		{"upskin", r.Roughness.Classes.Upskin, func(g *group) bool { return !g.down && g.deg < r.Geometry.VerticalFromDeg.Value }},
		{"vertical", r.Roughness.Classes.Vertical, func(g *group) bool { return g.deg >= r.Geometry.VerticalFromDeg.Value }},
		{"downskin", r.Roughness.Classes.Downskin, func(g *group) bool { return g.down && g.deg < r.Geometry.VerticalFromDeg.Value }},
	}
	for _, k := range rows {
		var worst *group
		for _, g := range groups {
			if k.in(g) && (worst == nil || g.ra.Value > worst.ra.Value) {
				worst = g
			}
		}
		if worst == nil {
			c.note("roughness as built: no coupon for %s; the base recipe's stays", k.name)
			continue
		}
		k.row.RaUM = by(worst.ra)
		k.row.RzUM, k.row.RpUM, k.row.RvUM = recipe.Quantity{}, recipe.Quantity{}, recipe.Quantity{}
		if worst.rz >= 2*worst.ra.Value {
			k.row.RzUM = recipe.MeasuredValue(round(worst.rz), 0, by(worst.ra).By)
		}
	}
}
