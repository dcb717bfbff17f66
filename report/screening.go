package report

import (
	"math"

	"skinstock/mesh/finding"
	"skinstock/region/screen"
)

// Reason is what speaks against the part as it is.
type Reason struct {
	Code    string           `json:"code"`
	Weight  finding.Severity `json:"weight"` // for the purpose asked
	Message string           `json:"message"`
	Change  string           `json:"change"`
}

// AddScreening puts what screening found into the document; planned are the
// findings it already lists.
func (d *Document) AddScreening(planned []finding.Finding, r *screen.Report) {
	fs := &Features{
		Bores: make([]Bore, 0, len(r.Bores)), Slots: make([]Slot, 0, len(r.Slots)), Passages: make([]Passage, 0, len(r.Passages)), Cavities: make([]Cavity, 0, len(r.Cavities)), Pockets: []Pocket{},
		SharpEdges: SharpEdges{Number(r.SharpEdges.LengthMM), Number(r.SharpEdges.SharpestDeg)},
		WallMM:     Least{Min: Number(r.Wall.Min), P01: Number(r.Wall.P01), At: PointOf(r.Wall.At)},
		GapMM:      Least{Min: Number(r.Gap.Min), P01: Number(r.Gap.P01), At: PointOf(r.Gap.At)},
	}
	for _, b := range r.Bores {
		fs.Bores = append(fs.Bores, Bore{
			At: PointOf(b.At), Axis: PointOf(b.Axis), DiameterMM: Number(b.DiameterMM), DepthMM: Number(b.DepthMM),
			OpenEnds: b.OpenEnds, ReachedMM: Number(b.Reach.LimitMM), FieldReachMM: Number(b.Reach.FieldMM),
			UnreachedMM2: Number(b.Reach.UnreachedMM2),
		})
	}
	for _, s := range r.Slots {
		fs.Slots = append(fs.Slots, Slot{
			At: PointOf(s.At), Axis: PointOf(s.Axis), WidthMM: Number(s.WidthMM), DepthMM: Number(s.DepthMM), LengthMM: Number(s.LengthMM),
			OpenEnds: s.OpenEnds, ReachedMM: Number(s.Reach.LimitMM), FieldReachMM: Number(s.Reach.FieldMM), UnreachedMM2: Number(s.Reach.UnreachedMM2),
		})
	}
	for _, q := range r.Passages {
		fs.Passages = append(fs.Passages, Passage{
			At: PointOf(q.At), WidthMM: Range{Min: Number(q.MinMM), Mean: Number(q.WidthMM), Max: Number(q.MaxMM)}, WayMM: Number(q.WayMM),
			NarrowMM: Number(q.NarrowMM), Widths: Number(q.Widths), UnreachedMM2: Number(q.UnreachedMM2),
		})
	}
	for _, c := range r.Cavities {
		fs.Cavities = append(fs.Cavities, Cavity{At: PointOf(c.At), VolumeMM3: Number(c.VolumeMM3)})
	}
	for _, q := range r.Pockets {
		fs.Pockets = append(fs.Pockets, Pocket{Kind: q.Kind.String(), At: PointOf(q.At), DepthMM: Number(q.DepthMM), VolumeMM3: Number(q.VolumeMM3)})
	}
	d.Features = fs
	d.Verdict = string(r.Verdict)
	for _, x := range r.Reasons {
		d.Reasons = append(d.Reasons, Reason(x))
	}
	d.Findings = Findings(append(planned[:len(planned):len(planned)], r.Findings...))
}

// textReasons is how many reasons the summary prints.
const textReasons = 5

func (t *textWriter) screening(d *Document) {
	if d.Features == nil {
		return
	}
	fs := d.Features
	least := func(l Least) string {
		if !math.IsInf(float64(l.Min), 0) {
			return sig(float64(l.Min), 3) + " mm"
		}
		return "not found"
	}
	t.row("shapes", "%s, %s, %s, %s mm of sharp edges, thinnest wall %s, narrowest gap %s",
		plural(len(fs.Bores), "bore", "bores"), plural(len(fs.Slots), "slot", "slots"), plural(len(fs.Cavities), "closed cavity", "closed cavities"),
		sig(float64(fs.SharpEdges.LengthMM), 3), least(fs.WallMM), least(fs.GapMM))
	t.row("not judged", "fit into the bath, places for the clamp; pockets only for the build direction up")
	words := map[string]string{"suited": "suited", "suited_with_changes": "suited with changes", "not_suited": "not suited"}
	t.row("verdict", "%s, by limits that are assumed unless the recipe says measured", words[d.Verdict])
	for i, r := range d.Reasons {
		if i == textReasons {
			t.line("  ... and %d more reasons in the JSON report", len(d.Reasons)-i)
			break
		}
		t.line("  %d. %s: %s", i+1, r.Code, r.Change)
	}
}
