package report

import (
	"math"

	"skinstock/mesh"
	"skinstock/mesh/part"
	"skinstock/offset"
	"skinstock/offset/field/loop"
	"skinstock/offset/recipe"
	"skinstock/offset/removal"
)

// ToolName is the program's name in documents.
const ToolName = "skinstock"

// Written is what is known of the output file once it stands.
type Written struct {
	File, SHA256 string
}

// ComposePlan returns the document of a planned part.
func ComposePlan(command, version string, pl *offset.Planned) *Document {
	d := &Document{
		Schema: Schema, Tool: Tool{Name: ToolName, Version: version}, Command: command,
		Input: composeInput(pl.Part), BuildDir: PointOf(pl.BuildDir), Recipe: composeRecipe(pl.Plan.Recipe),
		Skins: make([]Skin, 0, len(pl.Plan.Skins)), Bath: composeBath(pl.Plan),
		Findings: Findings(pl.Findings), Cautions: Cautions,
	}
	if e := pl.Exposed; e != nil {
		d.Field = &Field{
			Model: string(e.Model), WagnerLengthMM: Number(e.PolarisationMM), Panels: e.Field.Panels, CapacitanceMM: Number(e.Field.CapacitanceMM),
			Factor: Range{Number(e.Spread.Min), 1, Number(e.Spread.Max)}, P05: Number(e.Spread.P05), P95: Number(e.Spread.P95),
			FarField: string(e.FarField), Cathodes: e.Cathodes, ErrorEstimate: Number(e.Field.ErrorEstimate), UnreachedMM2: Number(e.UnreachedMM2),
		}
	}
	if c := pl.Closed; c != nil && d.Field != nil {
		d.Field.Loop = composeLoop(c, pl.Nominal)
	}
	for _, s := range pl.Plan.Skins {
		d.Skins = append(d.Skins, composeSkin(s))
	}
	if s := pl.Refined; s != nil {
		d.Surface = &Surface{ChordUM: Number(s.ChordMM * umPerMM), InPart: s.Stopped}
		if s.After != s.Before {
			d.Surface.RefinedFrom, d.Surface.RefinedTo = s.Before, s.After
		}
	}
	d.Keep = composeKeep(pl.Kept, nil, false)
	d.addDirections(pl, pl.Plan.Recipe.Material.DensityGPerCM3.Value)
	return d
}

// ComposeResult returns the document of a grown part.
func ComposeResult(command, version string, res *offset.Result, out Written) *Document {
	d := ComposePlan(command, version, res.Planned)
	given := res.SkinAllowances()
	for i, s := range res.Plan.Skins {
		if g := &given[s.Skin]; g.Facets > 0 {
			d.Skins[i].AllowanceUM = Range{Number(g.Least * umPerMM), Number(g.Mean * umPerMM), Number(g.Most * umPerMM)}
		}
	}
	if b := res.Rebuilding; b != nil && d.Surface != nil {
		d.Surface.Remeshed, d.Surface.CellMM = true, Number(b.Cell)
	}
	d.Bath.MassAddedG = Number(res.AddedG)
	d.Output = &Output{
		File: out.File, SHA256: out.SHA256, Triangles: len(res.Grown.Facets), VolumeMM3: Number(res.GrownMM3),
		Closed: true, Rebuilt: res.Rebuilt,
	}
	if !res.Unchecked {
		d.Output.SelfIntersections = new(res.Crossings)
	}
	if p := res.Proof; p != nil {
		d.Verify = composeProof(p)
	}
	d.Keep = composeKeep(res.Kept, res.KeptChecks, res.Proof != nil)
	d.Sizes = composeSizes(res.Sizes)
	return d
}

func composeInput(p *part.Part) Input {
	m := p.Measures()
	in := Input{
		File: p.Name, SHA256: p.SHA256, Format: p.Format, Triangles: p.Triangles, Vertices: len(p.Mesh.Vertices),
		Units: p.Unit.Name, BboxMM: [2]Point{PointOf(m.Lo), PointOf(m.Hi)}, AreaMM2: Number(m.AreaMM2),
		VolumeMM3: Number(m.VolumeMM3), Closed: p.Topo.Closed(), Shells: len(p.Shells), Repairs: map[string]int{},
	}
	for _, m := range p.Repairs.Mends {
		in.Repairs[m.Kind.String()] = m.Count
	}
	for _, q := range p.Mesh.Solids {
		in.Solids = append(in.Solids, Solid{Name: q.Name, Facets: q.Count})
	}
	return in
}

func composeRecipe(r *recipe.Recipe) Recipe {
	out := Recipe{Name: r.Name, File: r.File, SHA256: r.SHA256, Values: len(r.Values()), Assumed: []string{}}
	for _, v := range r.AssumedValues() {
		out.Assumed = append(out.Assumed, v.Path)
	}
	return out
}

func composeSkin(s removal.SkinPlan) Skin {
	given := 0.0
	if s.Fixed {
		given = s.AllowanceUM.Mean
	}
	return Skin{
		Skin: s.Skin, GivenUM: Number(given), Faces: s.Faces, AreaMM2: Number(s.AreaMM2), RaUM: Number(s.RaUM), RzUM: Number(s.RzUM),
		CalledForUM: Number(s.CalledForUM), TakenUM: Number(s.TakenUM), StandoffUM: Number(s.StandOffUM), OversizeUM: Number(s.OversizeUM),
		AllowanceUM:  Range{Number(s.AllowanceUM.Min), Number(s.AllowanceUM.Mean), Number(s.AllowanceUM.Max)},
		FinishedRaUM: Number(s.FinishedRaUM), Fixed: s.Fixed,
	}
}

func composeBath(p *removal.Plan) *Bath {
	b := p.Bath
	return &Bath{
		TimeMin: Number(b.TimeMin), GovernedBy: b.GovernedBy, AreaCM2: Number(b.AreaCM2), CurrentA: Number(b.CurrentA),
		ChargeAh: Number(b.ChargeAh), EnergyKWh: Number(b.EnergyKWh), MassRemovedG: Number(b.MassRemovedG), MassAddedG: Number(b.MassAddedG),
		HydrogenL: Number(b.HydrogenL), LoadingGPerL: Number(b.LoadingGPerL), CurrentLimitA: Number(p.Recipe.Bath.MaxCurrentA.Or(0)),
	}
}

// ComposeVerify returns the document of a grown part judged by itself.
func ComposeVerify(version string, res *offset.Result, grown *part.Part) *Document {
	d := ComposePlan("verify", version, res.Planned)
	d.Output = &Output{
		File: grown.Name, SHA256: grown.SHA256, Triangles: len(res.Grown.Facets), VolumeMM3: Number(res.GrownMM3),
		Closed: grown.Topo.Closed(), SelfIntersections: new(res.Crossings),
	}
	d.Verify = composeProof(res.Proof)
	d.Keep = composeKeep(res.Kept, res.KeptChecks, true)
	if s := res.Standing; s != nil {
		d.Field.Finish = &Finish{RemovalUM: Number(s.RemovalMM * umPerMM)}
		for _, k := range append(s.Skins, s.Whole) {
			name := k.Skin.String()
			if len(d.Field.Finish.Skins) == len(s.Skins) {
				name = "all"
			}
			d.Field.Finish.Skins = append(d.Field.Finish.Skins, composeFinished(name, k.Predicted, nil))
		}
	}
	return d
}

func composeLoop(c *offset.Closed, nominal *mesh.Mesh) *Loop {
	best := c.History[c.Best]
	l := &Loop{
		RemovalUM: Number(c.RemovalMM * umPerMM), UniformP95: Number(c.Uniform.P95 * umPerMM), HistoryP95: make([]Number, 0, len(c.History)),
		P95: Number(best.P95 * umPerMM), Max: Number(best.Max * umPerMM), EdgeP95: Number(best.EdgeP95 * umPerMM),
		EdgeRadius: Number(best.EdgeRadius * umPerMM), Capped: c.Capped,
		EdgeRadiusP95: Number(best.EdgeRadiusP95 * umPerMM), UniformEdgeRadius: Number(c.Uniform.EdgeRadius * umPerMM),
		Skins: make([]FinishedSkin, 0, len(c.Skins)+1), Histogram: finishHistogram(c, nominal),
	}
	for _, s := range c.Skins {
		l.Skins = append(l.Skins, composeFinished(s.Skin.String(), s.Predicted, &s.Uniform))
	}
	l.Skins = append(l.Skins, composeFinished("all", c.Whole.Predicted, &c.Whole.Uniform))
	for _, h := range c.History {
		l.HistoryP95 = append(l.HistoryP95, Number(h.P95*umPerMM))
	}
	return l
}

// composeFinished puts a skin's predicted finish into um; uniform may be nil.
func composeFinished(name string, p loop.Away, uniform *loop.Away) FinishedSkin {
	f := FinishedSkin{
		Skin: name, AreaMM2: Number(p.AreaMM2), BesideMM2: Number(p.BesideMM2), Mean: Number(p.Mean * umPerMM),
		P95: Number(p.P95 * umPerMM), Max: Number(p.Max * umPerMM),
	}
	if uniform != nil {
		u := Number(uniform.P95 * umPerMM)
		f.UniformP95 = &u
	}
	return f
}

// finishBins is how many steps the predicted finish's histogram has on either side of zero.
const finishBins = 12

// finishHistogram shares the area by the predicted deviation; the end bins, at
// four times what 95 % of the area away from edges stay below, hold what lies beyond.
func finishHistogram(c *offset.Closed, nominal *mesh.Mesh) Histogram {
	step := math.Max(4*c.History[c.Best].P95*umPerMM/finishBins, 0.1)
	area := make([]float64, 2*finishBins)
	var whole float64
	for f, e := range c.SignedMM {
		bin := int(math.Floor(e * umPerMM / step))
		a := nominal.FacetArea(f)
		area[max(0, min(len(area)-1, bin+finishBins))] += a
		whole += a
	}
	h := Histogram{StartUM: Number(-finishBins * step), StepUM: Number(step), Share: make([]Number, 0, len(area))}
	for _, a := range area {
		h.Share = append(h.Share, Number(a/whole))
	}
	return h
}
