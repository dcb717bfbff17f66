package report

import (
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"text/tabwriter"

	"skinstock/mesh/finding"
	"skinstock/offset"
	"skinstock/offset/recipe"
)

// WriteText writes the summary for a terminal: what a person reads in ten
// seconds. The text of files and findings must be made safe by the writer.
func (d *Document) WriteText(w io.Writer) error {
	var b strings.Builder
	if err := d.writeText(&b); err != nil {
		return err
	}
	// Tables pad their columns, the last one too.
	_, err := io.WriteString(w, trailingBlanks.ReplaceAllString(b.String(), ""))
	return err
}

var trailingBlanks = regexp.MustCompile(`(?m) +$`)

func (d *Document) writeText(w io.Writer) error {
	t := &textWriter{w: w}
	t.input(d)
	t.directions(d)
	t.skins(d)
	t.keep(d)
	t.sizes(d)
	t.bath(d)
	t.field(d)
	t.output(d)
	if d.Planning != nil && t.err == nil {
		t.err = d.Planning.WriteText(w)
		t.line("")
	}
	t.screening(d)
	t.findings(d)
	t.caution()
	return t.err
}

type textWriter struct {
	w   io.Writer
	err error
}

func (t *textWriter) line(format string, a ...any) {
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.w, format+"\n", a...)
	}
}

// row writes a labelled line.
func (t *textWriter) row(label, format string, a ...any) {
	t.line("%-10s "+format, append([]any{label}, a...)...)
}

func (t *textWriter) input(d *Document) {
	in := d.Input
	size := func(k int) float64 { return float64(in.BboxMM[1][k] - in.BboxMM[0][k]) }
	t.row("part", "%s: %s, %s facets, %s x %s x %s mm read as %s, %s cm2, %s mm3, %s",
		in.File, in.Format, grouped(in.Triangles), sig(size(0), 4), sig(size(1), 4), sig(size(2), 4), in.Units,
		sig(float64(in.AreaMM2)/100, 4), sig(float64(in.VolumeMM3), 5), plural(in.Shells, "body", "bodies"))
	t.row("build", "direction (%s, %s, %s)", sig(float64(d.BuildDir[0]), 4), sig(float64(d.BuildDir[1]), 4), sig(float64(d.BuildDir[2]), 4))
	t.row("recipe", "%s: %d of %d values assumed, not measured on your machine and bath", d.Recipe.Name, len(d.Recipe.Assumed), d.Recipe.Values)
	t.line("")
}

func (t *textWriter) skins(d *Document) {
	if t.err != nil || len(d.Skins) == 0 {
		return
	}
	tw := tabwriter.NewWriter(t.w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(tw, "skin\tarea\tRa printed\tcalled for\ttaken\tstand-off\tallowance\tRa finished\t")
	fmt.Fprintln(tw, "\tcm2\tum\tum\tum\tum\tum\tum\t")
	for _, s := range d.Skins {
		mark := ""
		if s.Fixed {
			mark = " given"
		}
		fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t%s\t%s\t%s%s\t%s\t\n", s.Skin, sig(float64(s.AreaMM2)/100, 3), fixed(s.RaUM), fixed(s.CalledForUM),
			fixed(s.TakenUM), fixed(s.StandoffUM), s.AllowanceUM.text(), mark, sig(float64(s.FinishedRaUM), 2))
	}
	if t.err = tw.Flush(); t.err == nil {
		t.line("")
	}
}

func (r Range) text() string {
	if r.Max-r.Min < 0.05 {
		return fixed(r.Mean)
	}
	return fmt.Sprintf("%s to %s", fixed(r.Min), fixed(r.Max))
}

func (t *textWriter) bath(d *Document) {
	b := d.Bath
	if b == nil {
		return
	}
	s := fmt.Sprintf("%s min, set by the %s; %s cm2 wetted", sig(float64(b.TimeMin), 3), b.GovernedBy, sig(float64(b.AreaCM2), 4))
	if b.CurrentA > 0 {
		s += fmt.Sprintf(", %s A", sig(float64(b.CurrentA), 3))
	}
	if b.EnergyKWh > 0 {
		s += fmt.Sprintf(", %s kWh", sig(float64(b.EnergyKWh), 3))
	}
	t.row("bath", "%s; %s g come off", s, sig(float64(b.MassRemovedG), 3))
	t.row("stock", "%s g added", sig(float64(b.MassAddedG), 3))
}

func (t *textWriter) field(d *Document) {
	f := d.Field
	if f == nil {
		return
	}
	t.row("field", "%s model, polarisation length %s mm: 90 %% of the area get %s to %s of the mean current, extremes %s and %s; factors good to about %s %%; %s mm2 not reached",
		f.Model, sig(float64(f.WagnerLengthMM), 3), sig(float64(f.P05), 2), sig(float64(f.P95), 3), sig(float64(f.Factor.Min), 2), sig(float64(f.Factor.Max), 3),
		sig(100*float64(f.ErrorEstimate), 2), sig(float64(f.UnreachedMM2), 3))
	if f.Model == string(offset.FieldFast) {
		t.row("model", "fast has few panels: beside the full one it was off by 1 %% in the mean on a smooth body, 6 %% on edged and on rough parts, 4 to 14 %% in gyroids; full resolves edges and deep holes")
	}
	if f.FarField != string(recipe.FarInfinity) || f.Cathodes > 0 {
		t.row("cathode", "%s", f.surroundings())
	}
	if b := f.Primary; b != nil {
		t.row("bounds", "without polarisation 90 %% of the area would get %s to %s, extremes %s and %s; with endless polarisation 1 everywhere",
			sig(float64(b.P05), 2), sig(float64(b.P95), 3), sig(float64(b.Min), 2), sig(float64(b.Max), 3))
	}
	if l := f.Loop; l != nil {
		t.row("loop", "predicted finish off nominal by %s um on 95 %% of the area away from sharp edges, %s %% of the removal of %s um; %s um with the same stock everywhere",
			sig(float64(l.P95), 2), sig(100*float64(l.P95/l.RemovalUM), 2), sig(float64(l.RemovalUM), 3), sig(float64(l.UniformP95), 2))
		t.row("edges", "%s", l.edges())
		t.finish(l.Skins)
	}
	if k := f.Finish; k != nil {
		all := k.Skins[len(k.Skins)-1]
		t.row("finish", "by the field around the grown part: off nominal by %s um on 95 %% of the area away from sharp edges, %s %% of the removal of %s um",
			sig(float64(all.P95), 2), sig(100*float64(all.P95/k.RemovalUM), 2), sig(float64(k.RemovalUM), 3))
		t.finish(k.Skins)
	}
}

// surroundings says between what the field was found.
func (f *Field) surroundings() string {
	s := plural(f.Cathodes, "plate", "plates")
	switch {
	case f.FarField != string(recipe.FarVessel):
		return s + " in a bath without walls"
	case f.Cathodes > 0:
		return s + " in a vessel whose walls insulate, as the bath's surface on top"
	}
	return "the walls of the vessel but for the bath's surface on top"
}

// edges says what becomes of sharp edges that jut out.
func (l *Loop) edges() string {
	s := fmt.Sprintf("within three removals of sharp edges 95 %% of the area are off by up to %s um; ", sig(float64(l.EdgeP95), 2))
	if l.EdgeRadius == 0 && l.EdgeRadiusP95 == 0 {
		s += "no edge sharper than 120 degrees is predicted to lose more than its faces"
	} else {
		s += fmt.Sprintf("half the length of edges sharper than 120 degrees is predicted to %s, 95 %% %s; with the same stock everywhere half to %s; by the current on a strip beside them, on a square edge right within 10 %%",
			rounded(l.EdgeRadius), rounded(l.EdgeRadiusP95), rounded(l.UniformEdgeRadius))
	}
	if l.Capped > 0 {
		s += fmt.Sprintf("; %s would take more stock than the limit allows", plural(l.Capped, "facet", "facets"))
	}
	return s
}

// rounded says what radius edges end at; on rough facets they may lose no more than their faces.
func rounded(um Number) string {
	if um <= 0 {
		return "lose no more than its faces"
	}
	return fmt.Sprintf("end at a radius below %s um", sig(float64(um), 2))
}

// finish writes the table of the predicted finish.
func (t *textWriter) finish(skins []FinishedSkin) {
	if t.err != nil {
		return
	}
	t.line("")
	tw := tabwriter.NewWriter(t.w, 0, 0, 2, ' ', tabwriter.AlignRight)
	head, units := "predicted finish\tarea away\tbeside edges\tmean off\t95 % within\tworst\t", "\tcm2\tcm2\tum\tum\tum\t"
	if skins[0].UniformP95 != nil {
		head, units = head+"same stock, 95 %\t", units+"um\t"
	}
	fmt.Fprintf(tw, "%s\n%s\n", head, units)
	for _, s := range skins {
		fmt.Fprintf(tw, "%s\t%s\t%s\t%+.1f\t%s\t%s\t", s.Skin, sig(float64(s.AreaMM2)/100, 3), sig(float64(s.BesideMM2)/100, 3), float64(s.Mean), fixed(s.P95), fixed(s.Max))
		if s.UniformP95 != nil {
			fmt.Fprintf(tw, "%s\t", fixed(*s.UniformP95))
		}
		fmt.Fprintln(tw)
	}
	if t.err = tw.Flush(); t.err == nil {
		t.line("")
	}
}

func (t *textWriter) output(d *Document) {
	if v := d.Verify; v != nil {
		t.row("proof", "%s samples: short by at most %s um (99 %%: %s um), over by at most %s um (99 %%: %s um), rms %s um",
			grouped(v.Samples), um(v.ShortfallUM.Max), um(v.ShortfallUM.P99), um(v.ExcessUM.Max), um(v.ExcessUM.P99), um(v.RMSUM))
		t.proofTable(d)
	} else if o := d.Output; o != nil && o.SelfIntersections == nil {
		t.row("proof", "NONE: neither stock, nor room between walls, nor crossings were looked at; do not print from this file")
	} else if o != nil {
		t.row("proof", "NONE: crossings and the room between walls were looked at, the stock was not measured")
	}
	if o := d.Output; o != nil && o.File != "" {
		label := "written"
		if d.Command == "verify" {
			label = "grown"
		}
		state := "closed, free of crossings"
		switch n := o.SelfIntersections; {
		case n == nil:
			state = "closed, crossings NOT looked for"
		case !o.Closed || *n > 0:
			state = fmt.Sprintf("closed: %t, %s", o.Closed, plural(*n, "crossing", "crossings"))
		}
		file := o.File
		if file == "-" {
			file = "standard output"
		}
		t.row(label, "%s: %s facets, %s, %s mm3", file, grouped(o.Triangles), state, sig(float64(o.VolumeMM3), 5))
		t.row("result", "%s", VerdictOf(d).Word)
	}
}

// textFindings is how many findings the summary prints in full.
const textFindings = 12

func (t *textWriter) findings(d *Document) {
	if len(d.Findings) == 0 {
		t.row("findings", "none")
		return
	}
	var n [finding.Error + 1]int
	for _, f := range d.Findings {
		n[f.Severity]++
	}
	t.row("findings", "%s, %s, %d for information", plural(n[finding.Error], "error", "errors"), plural(n[finding.Warning], "warning", "warnings"), n[finding.Info])
	for i, f := range d.Findings {
		if i == textFindings {
			t.line("  ... and %d more in the JSON report", len(d.Findings)-i)
			break
		}
		at := ""
		if f.AtMM != nil {
			at = fmt.Sprintf(" at (%s, %s, %s) mm", sig(float64(f.AtMM[0]), 4), sig(float64(f.AtMM[1]), 4), sig(float64(f.AtMM[2]), 4))
		}
		t.line("  %-8s %s: %s%s", f.Severity, f.Code, f.Message, at)
		if f.Remedy != "" && f.Severity > finding.Info {
			t.line("           %s", f.Remedy)
		}
	}
}

func (t *textWriter) caution() {
	t.row("caution", "high voltage, hot corrosive electrolyte, hydrogen, fluoride, titanium powder: local codes and safety data sheets come first")
}

// um prints a deviation with three digits, down to a nanometre.
func um(v Number) string { return sig(math.Round(float64(v)*1e3)/1e3+0, 3) }

// fixed prints um with one decimal, halves away from zero. Means over skins
// differ by rounding errors: what is 0.15 but for those prints alike in each row.
func fixed(v Number) string {
	tenths := math.Round(math.Round(float64(v)*1e7) / 1e6)
	return strconv.FormatFloat(tenths/10+0, 'f', 1, 64) // + 0: no -0
}

// sig prints v with n significant digits, without exponent for usual sizes.
func sig(v float64, n int) string {
	s := strconv.FormatFloat(v, 'g', n, 64)
	if f, err := strconv.ParseFloat(s, 64); err == nil && strings.ContainsAny(s, "e") && f < 1e9 && (f >= 1 || f <= -1) {
		return strconv.FormatFloat(f, 'f', 0, 64)
	}
	return s
}

// grouped prints a count with commas between thousands.
func grouped(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
