package batch

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"skinstock/report"
)

// summaryHead are the columns of summary.csv, each with its unit.
var summaryHead = []string{
	"part", "outcome", "exit_code", "error", "verdict", "reason", "recipe", "values_assumed", "build_dir", "units", "triangles",
	"size_x_mm", "size_y_mm", "size_z_mm", "area_mm2", "volume_mm3", "grown_volume_mm3",
	"allowance_min_um", "allowance_mean_um", "allowance_max_um", "time_min", "current_a", "mass_added_g", "mass_removed_g",
	"verified", "shortfall_max_um", "excess_p99_um", "errors", "warnings", "output", "output_sha256",
}

// WriteSummary writes one row a part, as comma separated values.
func WriteSummary(w io.Writer, records []*Record) error {
	c := csv.NewWriter(w)
	if err := c.Write(summaryHead); err != nil {
		return err
	}
	for _, r := range records {
		if err := c.Write(summaryRow(r)); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func summaryRow(r *Record) []string {
	row := make([]string, 0, len(summaryHead))
	row = append(row, cell(r.Part), r.Outcome, strconv.Itoa(r.ExitCode), cell(r.Error))
	f := r.Figures
	if f == nil {
		for len(row) < len(summaryHead) {
			row = append(row, "")
		}
		return row
	}
	row = append(row, f.Verdict, cell(f.Reason), cell(f.Recipe), strconv.FormatBool(f.Assumed), directionText(f.BuildDir), f.Units, strconv.Itoa(f.Triangles))
	for _, n := range []report.Number{
		f.SizeMM[0], f.SizeMM[1], f.SizeMM[2], f.AreaMM2, f.VolumeMM3, f.GrownMM3, f.AllowanceUM.Min, f.AllowanceUM.Mean, f.AllowanceUM.Max,
		f.TimeMin, f.CurrentA, f.AddedG, f.RemovedG,
	} {
		row = append(row, numberText(n))
	}
	row = append(row, strconv.FormatBool(f.Verified))
	if f.Verified {
		row = append(row, numberText(f.ShortfallUM), numberText(f.ExcessP99UM))
	} else {
		row = append(row, "", "")
	}
	row = append(row, strconv.Itoa(f.Errors), strconv.Itoa(f.Warnings))
	out := r.file("output")
	return append(row, cell(out.Path), out.SHA256)
}

// file returns the file of a kind; empty when there is none.
func (r *Record) file(kind string) File {
	for _, f := range r.Files {
		if f.Kind == kind {
			return f
		}
	}
	return File{}
}

// cell keeps a spreadsheet from taking a name for a formula.
func cell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

func numberText(n report.Number) string {
	v := float64(n)
	if v != v || v-v != 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'g', 6, 64)
}

func directionText(p report.Point) string {
	return numberText(p[0]) + " " + numberText(p[1]) + " " + numberText(p[2])
}
