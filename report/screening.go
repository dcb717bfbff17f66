package report

import (
	"fmt"
	"math"
	"strings"

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

// AddScreening puts what screening found into the document, with the mass of
// the grown part and what could not be judged; planned are the findings it
// already lists.
func (d *Document) AddScreening(planned []finding.Finding, r *screen.Report, massG float64, notJudged []string) {
	fs := &Features{
		Bores: make([]Bore, 0, len(r.Bores)), Slots: make([]Slot, 0, len(r.Slots)), Passages: make([]Passage, 0, len(r.Passages)), Cavities: make([]Cavity, 0, len(r.Cavities)), Pockets: []Pocket{}, Clamps: make([]Clamp, 0, len(r.Clamps)),
		SharpEdges: SharpEdges{Number(r.SharpEdges.LengthMM), Number(r.SharpEdges.SharpestDeg)},
		WallMM:     Least{Min: Number(r.Wall.Min), P01: Number(r.Wall.P01), At: PointOf(r.Wall.At)},
		GapMM:      Least{Min: Number(r.Gap.Min), P01: Number(r.Gap.P01), At: PointOf(r.Gap.At)},
	}
	for _, b := range r.Bores {
		fs.Bores = append(fs.Bores, Bore{
			At: PointOf(b.At), Axis: PointOf(b.Axis), DiameterMM: Number(b.DiameterMM), DepthMM: Number(b.DepthMM),
			OpenEnds: b.OpenEnds, ReachedMM: Number(b.Reach.LimitMM), FieldReachMM: Number(b.Reach.FieldMM),
			PrimaryMM: Number(b.Reach.PrimaryMM), UnreachedMM2: Number(b.Reach.UnreachedMM2), Curved: b.Curved, Threaded: b.Threaded,
		})
	}
	for _, s := range r.Slots {
		fs.Slots = append(fs.Slots, Slot{
			At: PointOf(s.At), Axis: PointOf(s.Axis), WidthMM: Number(s.WidthMM), DepthMM: Number(s.DepthMM), LengthMM: Number(s.LengthMM),
			OpenEnds: s.OpenEnds, ReachedMM: Number(s.Reach.LimitMM), FieldReachMM: Number(s.Reach.FieldMM), PrimaryMM: Number(s.Reach.PrimaryMM), UnreachedMM2: Number(s.Reach.UnreachedMM2),
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
	for _, c := range r.Clamps {
		fs.Clamps = append(fs.Clamps, Clamp{
			At: PointOf(c.At), Normal: PointOf(c.Normal), RoomMM: Number(c.RoomMM), BehindMM: Number(c.BehindMM),
			MarkMM2: Number(c.MarkMM2), ProudMM: Number(c.ProudMM), Factor: Number(c.Exposure),
		})
	}
	if h := r.Hanging; h.Tried > 0 {
		fs.Hanging = &Hanging{
			Up: PointOf(h.Up), SizeMM: [3]Number{Number(h.SizeMM[0]), Number(h.SizeMM[1]), Number(h.SizeMM[2])},
			GasMM3: Number(h.GasMM3), LiquidMM3: Number(h.LiquidMM3), Directions: h.Tried, MassG: Number(massG),
		}
		if h.Judged {
			spare := Number(h.SpareMM)
			fs.Hanging.SpareMM = &spare
		}
	}
	d.Features = fs
	d.NotJudged = notJudged
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
	if n := len(fs.Passages); n > 0 {
		t.row("passages", "%s, the largest with %s mm2 of skin out of reach", plural(n, "winding or branching void", "winding or branching voids"), sig(float64(fs.Passages[0].UnreachedMM2), 3))
	}
	t.hanging(d)
	if len(d.NotJudged) > 0 {
		t.row("not judged", "%s", strings.Join(d.NotJudged, "; "))
	}
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

// hanging tells how the part hangs and where the contact sits.
func (t *textWriter) hanging(d *Document) {
	fs := d.Features
	if h := fs.Hanging; h != nil {
		room := "no envelope given"
		if h.SpareMM != nil {
			room = sig(float64(*h.SpareMM), 3) + " mm to spare"
		}
		holds := "holds back neither gas nor liquid"
		if h.GasMM3+h.LiquidMM3 > 0 {
			holds = fmt.Sprintf("holds %s mm3 of gas, keeps %s mm3 of liquid", sig(float64(h.GasMM3), 3), sig(float64(h.LiquidMM3), 3))
		}
		searched := ""
		if h.Directions > 1 {
			searched = fmt.Sprintf(", the best of %d directions", h.Directions)
		}
		t.row("hanging", "(%s, %s, %s) upwards%s: %s x %s x %s mm, %s; %s; %s g on the hanger",
			sig(float64(h.Up[0]), 3), sig(float64(h.Up[1]), 3), sig(float64(h.Up[2]), 3), searched,
			sig(float64(h.SizeMM[0]), 4), sig(float64(h.SizeMM[1]), 4), sig(float64(h.SizeMM[2]), 4), room, holds, sig(float64(h.MassG), 3))
	}
	if len(fs.Clamps) > 0 {
		c := fs.Clamps[0]
		t.row("contact", "%s; best at (%s, %s, %s) mm, flat over %s mm", plural(len(fs.Clamps), "place", "places"),
			sig(float64(c.At[0]), 4), sig(float64(c.At[1]), 4), sig(float64(c.At[2]), 4), sig(float64(c.RoomMM), 3))
	}
}
