package calibrate

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"skinstock/offset/recipe"
)

// ErrTooFew is returned when the coupons determine nothing at all.
var ErrTooFew = errors.New("the coupons determine nothing")

// Parameter is one fitted number.
type Parameter struct {
	Key        string  `json:"key"`   // levelling_depth, floor_ra, rate, efficiency, current_density, polarisation, ra
	Label      string  `json:"label"` // for people, with side and inclination where they matter
	Unit       string  `json:"unit"`
	Value      float64 `json:"value"`
	Lo         float64 `json:"lo"` // 95 % interval
	Hi         float64 `json:"hi"`
	Coupons    int     `json:"coupons"`
	ScatterPct float64 `json:"scatter_pct"` // of single coupons around the fit, one standard deviation

	Path string `json:"path"` // where it goes in the recipe; empty for a row of the table
}

// half returns the half-width of the interval.
func (p Parameter) half() float64 { return (p.Hi - p.Lo) / 2 }

// Residual is one coupon against one fit.
type Residual struct {
	Fit       string  `json:"fit"` // levelling, rate, efficiency, roughness, polarisation
	Line      int     `json:"line"`
	ID        string  `json:"coupon"`
	X         float64 `json:"x"` // depth um, minutes, charge Ah, inclination deg or depth mm, as in XLabel of the fit
	Observed  float64 `json:"observed"`
	Predicted float64 `json:"predicted"`
	Sigmas    float64 `json:"sigmas"` // distance in standard deviations of the fit
	Outlier   bool    `json:"outlier"`
}

// Axis names the axes of a fit in a residual chart.
type Axis struct {
	Fit    string `json:"fit"`
	XLabel string `json:"x_label"`
	YLabel string `json:"y_label"`
}

// Axes lists the fits in order with the names of their axes.
func Axes() []Axis {
	return []Axis{
		{"levelling", "depth removed, um", "Ra after, um"},
		{"rate", "time, min", "depth removed, um"},
		{"efficiency", "charge, Ah", "mass removed, g"},
		{"roughness", "inclination, deg, downskins below zero", "Ra as built, um"},
		{"polarisation", "depth in the hole, mm", "depth removed from the wall, um"},
	}
}

// Result is what the coupons say.
type Result struct {
	Parameters []Parameter    `json:"parameters"`
	Residuals  []Residual     `json:"residuals"`
	Outliers   []Residual     `json:"outliers"` // the same, those far off
	Notes      []string       `json:"notes"`    // what could not be fitted and why, and what stays assumed
	Recipe     *recipe.Recipe `json:"-"`        // the base recipe with the fitted values, checked
	YAML       []byte         `json:"-"`        // that recipe as a file
}

// Options say how the recipe is made.
type Options struct {
	Name string // of the new recipe; empty keeps the base's with "-measured"
	By   string // who vouches for the values, such as the file of the coupons
}

// Run fits a base recipe to coupons. The base gives what the coupons do not
// determine, and density and composition for depths and charges by weight.
// Where the fitted values make no sound recipe, such as a floor above the
// target, the result comes back beside the error, with all but the recipe.
func Run(coupons []Coupon, base *recipe.Recipe, opt Options) (*Result, error) {
	c := &calibration{base: base, res: &Result{Parameters: []Parameter{}, Residuals: []Residual{}, Outliers: []Residual{}, Notes: []string{}}}
	for _, k := range coupons {
		if k.Hole() {
			c.holes = append(c.holes, k)
		} else {
			c.coupons = append(c.coupons, k)
		}
	}
	if err := checkHoles(c.holes); err != nil {
		return nil, err
	}
	groups := c.roughness()
	c.levelling()
	c.rate()
	c.efficiency()
	c.polarisation()
	if len(c.res.Parameters) == 0 {
		return nil, fmt.Errorf("%w: give more of them, at least three of a kind", ErrTooFew)
	}
	for _, r := range c.res.Residuals {
		if r.Outlier {
			c.res.Outliers = append(c.res.Outliers, r)
		}
	}
	return c.res, c.write(groups, opt)
}

type calibration struct {
	coupons []Coupon // flat ones
	holes   []Coupon // places in holes
	base    *recipe.Recipe
	res     *Result
}

func (c *calibration) note(format string, args ...any) {
	c.res.Notes = append(c.res.Notes, fmt.Sprintf(format, args...))
}

// depthUM returns the depth removed from one face, NaN when not measured: by
// thickness, else by mass over density and area (references.md 5).
func (c *calibration) depthUM(k Coupon) float64 {
	faces := k.Faces
	if math.IsNaN(faces) {
		faces = 2
	}
	if d := 1000 * (k.ThicknessBeforeMM - k.ThicknessAfterMM) / faces; !math.IsNaN(d) {
		return d
	}
	return 1e4 * (k.MassBeforeG - k.MassAfterG) / (c.base.Material.DensityGPerCM3.Value * k.AreaCM2)
}

// massG returns the mass removed, NaN when not measured: by weighing, else by thickness and area.
func (c *calibration) massG(k Coupon) float64 {
	if m := k.MassBeforeG - k.MassAfterG; !math.IsNaN(m) {
		return m
	}
	return 1e-4 * c.depthUM(k) * k.AreaCM2 * c.base.Material.DensityGPerCM3.Value
}

// residuals enters the coupons of a fit.
func (c *calibration) residuals(name string, used []Coupon, s *solution, x, observed, predicted func(i int) float64) {
	for i, k := range used {
		c.res.Residuals = append(c.res.Residuals, Residual{
			Fit: name, Line: k.Line, ID: k.ID, X: x(i), Observed: observed(i), Predicted: predicted(i),
			Sigmas: s.resid[i] / s.sigma, Outlier: s.outlier(i),
		})
	}
}

// factor fits ln(y) = ln(value) + scatter: the middle of ratios.
func (c *calibration) factor(y []float64) (*solution, error) {
	return fit(func(p []float64) ([]float64, *matDense) {
		r, j := make([]float64, len(y)), newDense(len(y), 1)
		for i, v := range y {
			r[i] = math.Log(v) - p[0]
			j.Set(i, 0, -1)
		}
		return r, j
	}, []float64{math.Log(middle(y))})
}

func middle(y []float64) float64 {
	s := slices.Clone(y)
	slices.Sort(s)
	return median(s)
}

// enter adds a fitted logarithm as a parameter.
func (c *calibration) enter(p Parameter, log, half, sigma float64, n int) {
	p.Value, p.Lo, p.Hi = math.Exp(log), math.Exp(log-half), math.Exp(log+half)
	p.Coupons, p.ScatterPct = n, 100*sigma
	c.res.Parameters = append(c.res.Parameters, p)
}

// rate fits depth over time.
func (c *calibration) rate() {
	var used []Coupon
	var y []float64
	for _, k := range c.coupons {
		if d := c.depthUM(k); d > 0 && k.Minutes > 0 {
			used, y = append(used, k), append(y, d/k.Minutes)
		}
	}
	if len(used) < 3 {
		c.note("removal rate: %d coupons with depth and minutes, 3 are needed; the base recipe's stays", len(used))
		return
	}
	s, err := c.factor(y)
	if err != nil {
		c.note("removal rate: %v; the base recipe's stays", err)
		return
	}
	v := math.Exp(s.p[0])
	c.enter(Parameter{Key: "rate", Label: "removal rate", Unit: "um/min", Path: "bath.rate_um_per_min"}, s.p[0], s.half(0), s.sigma, len(used))
	c.residuals("rate", used, s, func(i int) float64 { return used[i].Minutes },
		func(i int) float64 { return c.depthUM(used[i]) }, func(i int) float64 { return v * used[i].Minutes })
}

// efficiency fits mass removed over what the charge could dissolve.
func (c *calibration) efficiency() {
	e, ok := c.base.Material.EquivalentGPerMol()
	if !ok {
		c.note("current efficiency: the base recipe has no composition")
		return
	}
	full := func(k Coupon) float64 { return k.CurrentA * k.Minutes * 60 * e / recipe.FaradayCPerMol }
	var used []Coupon
	var y []float64
	for _, k := range c.coupons {
		if m := c.massG(k); m > 0 && full(k) > 0 {
			used, y = append(used, k), append(y, m/full(k))
		}
	}
	if len(used) < 3 {
		c.note("current efficiency: %d coupons with mass, minutes and current, 3 are needed", len(used))
		return
	}
	s, err := c.factor(y)
	if err != nil {
		c.note("current efficiency: %v", err)
		return
	}
	eta := math.Exp(s.p[0])
	c.enter(Parameter{Key: "efficiency", Label: "current efficiency", Path: "bath.efficiency"}, s.p[0], s.half(0), s.sigma, len(used))
	c.residuals("efficiency", used, s, func(i int) float64 { return used[i].CurrentA * used[i].Minutes / 60 },
		func(i int) float64 { return c.massG(used[i]) }, func(i int) float64 { return eta * full(used[i]) })
	c.current(used)
}

// current enters the current density of the coupons, where their area is known.
func (c *calibration) current(used []Coupon) {
	var y []float64
	for _, k := range used {
		if k.AreaCM2 > 0 {
			y = append(y, k.CurrentA/k.AreaCM2)
		}
	}
	if len(y) < 3 {
		c.note("current density: %d coupons with current and area, 3 are needed; the base recipe's stays", len(y))
		return
	}
	s, err := c.factor(y)
	if err != nil {
		c.note("current density: %v; the base recipe's stays", err)
		return
	}
	c.enter(Parameter{Key: "current_density", Label: "current density of the coupons", Unit: "A/cm2", Path: "bath.current_density_a_per_cm2"}, s.p[0], s.half(0), s.sigma, len(y))
}
