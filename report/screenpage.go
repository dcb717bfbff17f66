package report

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/offset"
	"skinstock/region/screen"
	"skinstock/report/html"
	"skinstock/report/sheet"
)

// ScreenInput returns what the pictures of a screened part show: its skins and
// the numbered findings.
func ScreenInput(pl *offset.Planned, doc *Document) sheet.Input {
	in := sheet.Input{
		Part: filepath.Base(pl.Part.Name), Recipe: pl.Plan.Recipe.Name, Version: doc.Tool.Version, Assumed: len(doc.Recipe.Assumed) > 0,
		Nominal: pl.Nominal, Grown: pl.Nominal, Skins: pl.Sorting.Skin, Allowance: mesh.UniformPerFacet(pl.FacetMM), BuildDir: pl.BuildDir,
		PinSkins: true, PinsTitle: "Findings; the part is " + verdictWords[doc.Verdict].Word + unplaced(doc),
	}
	for i, n := range PinNumbers(doc.Findings) {
		if n > 0 {
			f := doc.Findings[i]
			in.Pins = append(in.Pins, sheet.Pin{Number: n, At: f.AtMM.Vector(), Strong: f.Severity == finding.Error, Text: f.Message})
		}
	}
	return in
}

// unplaced names what speaks against the part and has no place to stand on a picture.
func unplaced(doc *Document) string {
	placed := map[string]bool{}
	for _, f := range doc.Findings {
		placed[f.Code] = placed[f.Code] || f.AtMM != nil
	}
	var names []string
	for _, r := range doc.Reasons {
		if name := strings.ReplaceAll(r.Code, "_", " "); !placed[r.Code] && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return "; without a place: " + strings.Join(names, ", ")
}

// verdictWords are the verdicts of screening in words, with their levels.
var verdictWords = map[string]html.Verdict{
	string(screen.Suited):     {Word: "suited", Level: html.Good},
	string(screen.WithChange): {Word: "suited with changes", Level: html.Warning},
	string(screen.NotSuited):  {Word: "not suited", Level: html.Error},
}

// ScreenPage maps a screened part onto the report page, without pictures.
func ScreenPage(pl *offset.Planned, doc *Document) *html.Page {
	p := &html.Page{
		Part: filepath.Base(pl.Part.Name), Recipe: doc.Recipe.Name, Version: doc.Tool.Version,
		Summary:  "Can the bath treat the part? Judged by limits that are assumed unless the recipe says measured; no standard's limit is claimed.",
		Verdict:  verdictWords[doc.Verdict],
		Cautions: doc.Cautions,
		Files: []html.File{
			{Role: "part", Name: doc.Input.File, SHA256: doc.Input.SHA256},
			{Role: "recipe", Name: doc.Recipe.File, SHA256: doc.Recipe.SHA256},
		},
	}
	for i, r := range doc.Reasons {
		if i == mostReasons {
			break
		}
		p.Verdict.Reasons = append(p.Verdict.Reasons, fmt.Sprintf("%s: %s; %s", r.Code, r.Message, r.Change))
	}
	fs := doc.Features
	p.Figures = []html.Figure{
		{Label: "thinnest wall", Value: number(fs.WallMM.Min), Unit: "mm"},
		{Label: "narrowest gap", Value: number(fs.GapMM.Min), Unit: "mm"},
		{Label: "sharp edges", Value: sig(float64(fs.SharpEdges.LengthMM), 3), Unit: "mm"},
		{Label: "closed cavities", Value: fmt.Sprint(len(fs.Cavities))},
	}
	numbers := PinNumbers(doc.Findings)
	for i, f := range doc.Findings {
		p.Findings = append(p.Findings, findingRow(f, numbers[i]))
	}
	p.Tables = append(p.Tables, holeTable(fs), hangTable(doc))
	if len(doc.NotJudged) > 0 {
		t := html.Table{Title: "Not judged", Head: []string{"what"}}
		for _, s := range doc.NotJudged {
			t.Rows = append(t.Rows, html.Row{Cells: []string{s}})
		}
		p.Tables = append(p.Tables, t)
	}
	return p
}

// number prints a measure, or that there is none.
func number(n Number) string {
	if s := sig(float64(n), 3); !strings.Contains(s, "Inf") {
		return s
	}
	return "none"
}

// mostHoles is how many holes the page lists; the JSON has all.
const mostHoles = 200

func holeTable(fs *Features) html.Table {
	t := html.Table{
		Title: "Holes, slots and passages",
		Head:  []string{"what", "at, mm", "wide, mm", "deep, mm", "open ends", "reached by the limit, mm", "reached by the field, mm", "not reached, mm2"},
	}
	at := func(p Point) string {
		return fmt.Sprintf("%s, %s, %s", sig(float64(p[0]), 4), sig(float64(p[1]), 4), sig(float64(p[2]), 4))
	}
	add := func(cells ...string) { t.Rows = append(t.Rows, html.Row{Cells: cells}) }
	n := func(v Number) string { return sig(float64(v), 4) }
	for _, b := range fs.Bores {
		what := "bore"
		switch {
		case b.Threaded:
			what = "thread"
		case b.Curved:
			what = "curved channel"
		}
		add(what, at(b.At), n(b.DiameterMM), n(b.DepthMM), fmt.Sprint(b.OpenEnds), n(b.ReachedMM), n(b.FieldReachMM), n(b.UnreachedMM2))
	}
	for _, s := range fs.Slots {
		add("slot", at(s.At), n(s.WidthMM), n(s.DepthMM), fmt.Sprint(s.OpenEnds), n(s.ReachedMM), n(s.FieldReachMM), n(s.UnreachedMM2))
	}
	for _, q := range fs.Passages {
		add("passage", at(q.At), fmt.Sprintf("%s to %s", n(q.WidthMM.Min), n(q.WidthMM.Max)), n(q.WayMM), "", "", "", n(q.UnreachedMM2))
	}
	if len(t.Rows) > mostHoles {
		t.Note = fmt.Sprintf("The first %d of %d; the JSON report lists all.", mostHoles, len(t.Rows))
		t.Rows = t.Rows[:mostHoles]
	}
	if len(t.Rows) == 0 {
		t.Note = "None found."
	}
	return t
}

func hangTable(d *Document) html.Table {
	t := html.Table{Title: "Hanging and contact", Head: []string{"what", "value"}}
	add := func(what, format string, a ...any) {
		t.Rows = append(t.Rows, html.Row{Cells: []string{what, fmt.Sprintf(format, a...)}})
	}
	if h := d.Features.Hanging; h != nil {
		add("upwards in the bath", "(%s, %s, %s), of %d directions compared", sig(float64(h.Up[0]), 3), sig(float64(h.Up[1]), 3), sig(float64(h.Up[2]), 3), h.Directions)
		add("room it takes", "%s x %s x %s mm", sig(float64(h.SizeMM[0]), 4), sig(float64(h.SizeMM[1]), 4), sig(float64(h.SizeMM[2]), 4))
		if h.SpareMM != nil {
			add("room left beyond the clearance", "%s mm", sig(float64(*h.SpareMM), 3))
		}
		add("gas held, liquid kept", "%s and %s mm3", sig(float64(h.GasMM3), 3), sig(float64(h.LiquidMM3), 3))
		add("mass on the hanger", "%s g", sig(float64(h.MassG), 3))
	}
	if b := d.Bath; b != nil && b.CurrentA > 0 {
		add("wetted area and current", "%s cm2, %s A of %s A", sig(float64(b.AreaCM2), 4), sig(float64(b.CurrentA), 3), sig(float64(b.CurrentLimitA), 3))
	}
	for _, c := range d.Features.Clamps {
		add("place for the contact", "at (%s, %s, %s) mm, flat over %s mm, %s mm of metal behind; leaves %s mm2 as printed",
			sig(float64(c.At[0]), 4), sig(float64(c.At[1]), 4), sig(float64(c.At[2]), 4), sig(float64(c.RoomMM), 3), sig(float64(c.BehindMM), 3), sig(float64(c.MarkMM2), 2))
	}
	return t
}
