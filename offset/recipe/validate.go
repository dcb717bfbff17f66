package recipe

import (
	"fmt"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strings"
)

// validator collects problems of a decoded recipe.
type validator struct {
	r    *Recipe
	list []Problem
}

// add enters a problem at the line of the path, or of the nearest key above it.
func (v *validator) add(path, remedy, format string, args ...any) {
	v.list = append(v.list, Problem{Line: v.r.Line(path), Path: path, Message: fmt.Sprintf(format, args...), Remedy: remedy})
}

// Line returns the line of a key in the file: its own, or that of the nearest
// key above it that the file has; 0 when there is none.
func (r *Recipe) Line(path string) int {
	for {
		if l, ok := r.lines[path]; ok {
			return l
		}
		i := strings.LastIndexAny(path, ".[")
		if i < 0 {
			return r.lines[""]
		}
		path = path[:i]
	}
}

// Validate checks a recipe that was put together in the program, by the same
// rules as one from a file.
func (r *Recipe) Validate() error {
	c := r.Clone()
	c.lines = nil // what was changed since stands on no line
	c.fillDefaults()
	if p := c.validate(); len(p) > 0 {
		return &Error{File: r.Name, Problems: p}
	}
	return nil
}

// validate returns all problems in file order.
func (r *Recipe) validate() []Problem {
	v := &validator{r: r}
	v.heads()
	v.ranges()
	if len(v.list) == 0 { // the rules between values need sound values
		v.material()
		v.roughness()
		v.finish()
		v.bath()
		v.stages()
		v.screen()
	}
	slices.SortStableFunc(v.list, func(a, b Problem) int { return a.Line - b.Line })
	return v.list
}

var nameForm = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{0,63}$`)

func (v *validator) heads() {
	r := v.r
	if r.Version != FormatVersion {
		v.add("version", fmt.Sprintf("write version: %d as the first line", FormatVersion), "version %d is not known to this program", r.Version)
	}
	if !nameForm.MatchString(r.Name) {
		v.add("name", "use 1 to 64 lower case letters, digits, dots, hyphens and underscores", "%s is not a recipe name", clip(r.Name))
	}
	if strings.TrimSpace(r.Material.Name) == "" {
		v.add("material.name", "name the alloy", "the name is missing")
	}
}

// ranges checks each value by itself: given, within bounds, source sound.
func (v *validator) ranges() {
	walk(reflect.ValueOf(v.r).Elem(), "", v.quantity, func(path string, words []string, w reflect.Value) {
		if !slices.Contains(words, w.String()) {
			v.add(path, "write "+strings.Join(words, " or "), "%s is not known", clip(w.String()))
		}
	})
}

func (v *validator) quantity(f field) {
	q := *f.q
	if !q.Given() {
		if !f.spec.optional && !f.spec.hasDef {
			v.add(f.path, "give the "+f.doc, "the value is missing")
		}
		return
	}
	if !f.spec.holds(q.Value) {
		v.add(f.path, f.doc+": "+f.spec.bounds(), "%s cannot be", strings.TrimSpace(formatFloat(q.Value)+" "+f.spec.unit))
	}
	switch q.Source {
	case Measured, Assumed:
	case Published:
		if strings.TrimSpace(q.By) == "" {
			v.add(f.path, "add by: with the publication, or write source: assumed", "published, but nothing says where")
		}
	default:
		v.add(f.path, "write measured, published or assumed", "source %s is not known", clip(string(q.Source)))
	}
	if !(q.Uncertainty >= 0) || math.IsInf(q.Uncertainty, 0) {
		v.add(f.path, "give half the width of the 95 % band, 0 or more", "uncertainty %s cannot be", formatFloat(q.Uncertainty))
	} else if f.spec.min >= 0 && q.Value > 0 && q.Uncertainty > q.Value {
		v.add(f.path, "give half the width of the 95 % band in the unit of the value", "uncertainty %s is more than the value %s, which cannot be negative", formatFloat(q.Uncertainty), formatFloat(q.Value))
	}
}

func (v *validator) material() {
	m := v.r.Material
	sum, seen := 0.0, map[string]bool{}
	for i, e := range m.Elements {
		p := fmt.Sprintf("material.elements[%d]", i)
		if _, ok := AtomicWeight(e.Symbol); !ok {
			v.add(p+".symbol", "known are "+strings.Join(elementSymbols(), " "), "element %s is not known", clip(e.Symbol))
		}
		if seen[e.Symbol] {
			v.add(p+".symbol", "keep one of them", "element %s given twice", e.Symbol)
		}
		seen[e.Symbol] = true
		sum += e.MassFraction.Value
	}
	// 2 % leave room for rounded data sheets; more is a slip.
	if len(m.Elements) > 0 && math.Abs(sum-1) > 0.02+1e-9 {
		v.add("material.elements", "make the mass fractions add up to 1; 6 % is written 0.06", "mass fractions add up to %.4g", sum)
	}
}

func (v *validator) roughness() {
	r := v.r.Roughness
	const path = "roughness"
	switch r.Model {
	case ModelClasses:
		for _, c := range []struct {
			key string
			row *Row
		}{{"upskin", r.Classes.Upskin}, {"vertical", r.Classes.Vertical}, {"downskin", r.Classes.Downskin}} {
			if c.row == nil {
				v.add(path+".classes."+c.key, "add "+c.key+": {ra_um: ...} below classes", "the row is missing")
				continue
			}
			v.row(path+".classes."+c.key, *c.row)
		}
		if r.Classes.Platform != nil {
			v.row(path+".classes.platform", *r.Classes.Platform)
		}
	case ModelTable:
		v.table(path+".table.up", r.Table.Up)
		v.table(path+".table.down", r.Table.Down)
		v.meetAtWall(r.Table)
	case ModelStairStep:
		s := r.StairStep
		if !s.ParticleUM.Given() || !s.CoveredWall.Given() {
			v.add(path+".stair_step", "give particle_um and covered_wall", "layers alone do not make a wall rough: the powder figures are missing")
		}
	}
}

// row checks heights against each other.
func (v *validator) row(path string, w Row) {
	rz, rp, rv := w.RzUM, w.RpUM, w.RvUM
	const remedy = "Rz = Rp + Rv, and Rz is at least twice Ra"
	switch {
	case rz.Given() && rz.Value < 2*w.RaUM.Value:
		v.add(path+".rz_um", remedy, "Rz %s um with Ra %s um cannot be", formatFloat(rz.Value), formatFloat(w.RaUM.Value))
	case rp.Given() && rv.Given() && rp.Value+rv.Value < 2*w.RaUM.Value:
		v.add(path+".rp_um", remedy, "Rp %s um + Rv %s um with Ra %s um cannot be", formatFloat(rp.Value), formatFloat(rv.Value), formatFloat(w.RaUM.Value))
	case rz.Given() && rp.Given() && rv.Given() && math.Abs(rp.Value+rv.Value-rz.Value) > 0.01*rz.Value:
		v.add(path+".rz_um", remedy+"; leave one of them out", "Rp %s um + Rv %s um is not Rz %s um", formatFloat(rp.Value), formatFloat(rv.Value), formatFloat(rz.Value))
	case rz.Given() && rp.Given() && rp.Value >= rz.Value:
		v.add(path+".rp_um", remedy, "Rp %s um is not below Rz %s um", formatFloat(rp.Value), formatFloat(rz.Value))
	case rz.Given() && rv.Given() && rv.Value >= rz.Value:
		v.add(path+".rv_um", remedy, "Rv %s um is not below Rz %s um", formatFloat(rv.Value), formatFloat(rz.Value))
	}
}

func (v *validator) table(path string, rows []TableRow) {
	if len(rows) < 2 {
		v.add(path, "give at least two rows, or use model: classes", "%d rows are too few to read between", len(rows))
		return
	}
	for i, w := range rows {
		p := fmt.Sprintf("%s[%d]", path, i)
		v.row(p, w.Row)
		if i > 0 && w.Deg.Value <= rows[i-1].Deg.Value {
			v.add(p+".deg", "order the rows by inclination, each once", "%s deg follows %s deg", formatFloat(w.Deg.Value), formatFloat(rows[i-1].Deg.Value))
		}
	}
}

// meetAtWall checks that the two tables give a wall one roughness.
func (v *validator) meetAtWall(t Table) {
	if len(t.Up) == 0 || len(t.Down) == 0 {
		return
	}
	u, d := t.Up[len(t.Up)-1], t.Down[len(t.Down)-1]
	if u.Deg.Value == 90 && d.Deg.Value == 90 && (u.RaUM.Value != d.RaUM.Value || u.OversizeUM.Value != d.OversizeUM.Value) {
		v.add(fmt.Sprintf("roughness.table.down[%d]", len(t.Down)-1), "give 90 deg the same row in both", "a wall has one roughness, but up says Ra %s um and down says Ra %s um", formatFloat(u.RaUM.Value), formatFloat(d.RaUM.Value))
	}
}

func (v *validator) finish() {
	f := v.r.Finish
	if f.TargetRaUM.Value <= f.FloorRaUM.Value {
		v.add("finish.target_ra_um", "raise the target above the floor, or measure a lower floor", "target Ra %s um is not above the floor of %s um, which this bath does not get below", formatFloat(f.TargetRaUM.Value), formatFloat(f.FloorRaUM.Value))
	}
	switch l := f.Levelling; l.Law {
	case LawEmpirical:
		if !l.DepthUM.Given() && !v.everyStageLevels() {
			v.add("finish.levelling", "give depth_um, from coupons if you can", "the levelling depth is missing")
		}
	case LawSinusoid:
		if !l.WavelengthUM.Given() && !v.everyRowHasWavelength() {
			v.add("finish.levelling", "give wavelength_um here or in every row of the roughness", "the wavelength is missing")
		}
	}
}

func (v *validator) everyStageLevels() bool {
	for _, s := range v.r.Bath.Stages {
		if !s.LevellingDepthUM.Given() {
			return false
		}
	}
	return len(v.r.Bath.Stages) > 0
}

func (v *validator) everyRowHasWavelength() bool {
	r := v.r.Roughness
	var rows []Row
	switch r.Model {
	case ModelClasses:
		for _, p := range []*Row{r.Classes.Upskin, r.Classes.Vertical, r.Classes.Downskin, r.Classes.Platform} {
			if p != nil {
				rows = append(rows, *p)
			}
		}
	case ModelTable:
		for _, t := range append(slices.Clone(r.Table.Up), r.Table.Down...) {
			rows = append(rows, t.Row)
		}
	}
	for _, w := range rows {
		if !w.WavelengthUM.Given() {
			return false
		}
	}
	return len(rows) > 0
}

func (v *validator) screen() {
	s, g := v.r.Screen, v.r.Geometry
	if s.BoreMarginalDiameters.Value < s.BoreReachDiameters.Value {
		v.add("screen.bore_marginal_diameters", "make it at least bore_reach_diameters", "%s diameters are less than the %s treated well", formatFloat(s.BoreMarginalDiameters.Value), formatFloat(s.BoreReachDiameters.Value))
	}
	if s.ShieldedFail.Value >= s.ShieldedWarn.Value {
		v.add("screen.shielded_fail", "make it less than shielded_warn", "%s is not below the warning limit %s", formatFloat(s.ShieldedFail.Value), formatFloat(s.ShieldedWarn.Value))
	}
	if s.UnsupportedLimitDeg.Value > s.SelfSupportingDeg.Value {
		v.add("screen.unsupported_limit_deg", "make it at most self_supporting_deg", "%s deg is steeper than the %s deg that need no supports", formatFloat(s.UnsupportedLimitDeg.Value), formatFloat(s.SelfSupportingDeg.Value))
	}
	if g.VerticalFromDeg.Value <= s.UnsupportedLimitDeg.Value {
		v.add("geometry.vertical_from_deg", "60 is the default", "%s deg would call overhangs vertical that do not print without supports", formatFloat(g.VerticalFromDeg.Value))
	}
}
