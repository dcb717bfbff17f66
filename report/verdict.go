package report

import (
	"fmt"
	"slices"

	"skinstock/mesh/finding"
	"skinstock/report/html"
)

// levels maps severities onto the page's levels.
var levels = map[finding.Severity]html.Level{finding.Info: html.Info, finding.Warning: html.Warning, finding.Error: html.Error}

// sizeCodes are the findings that say the finished part would be off its size.
// Errors among the others, such as a current beyond the rectifier, stand
// against the bath or the file and leave the size as it is.
var sizeCodes = map[string]bool{
	"stock_missing": true, "stock_excess": true, "needle": true, "bodies_fused": true, "self_crossing_output": true,
	"kept_changed": true, "kept_covered": true, "zone_stock_thin": true, "loop_stopped": true, "field_unreached": true,
}

// mostReasons is how many reasons stand beside a verdict; the findings list has all.
const mostReasons = 5

// VerdictOf says in a word whether the grown part finishes on size. That a
// recipe is assumed is true of every first run and no flaw of the part: it
// qualifies the verdict instead of lowering it.
func VerdictOf(d *Document) html.Verdict {
	v := html.Verdict{Word: "finishes on size", Level: html.Good}
	scant := slices.ContainsFunc(d.Findings, func(f Finding) bool { return f.Code == fixedCode && f.Severity == finding.Warning })
	if scant { // stock given by hand may be there to the last um and still be too little
		v.Word, v.Level = "carries the stock given by hand", html.Warning
	}
	var size, other [finding.Error + 1]int
	for _, f := range d.Findings {
		switch {
		case f.Code == assumedCode:
			continue
		case f.Code == unitCode, f.Code == fixedCode && scant: // have words of their own
		case sizeCodes[f.Code]:
			size[f.Severity]++
		default:
			other[f.Severity]++
		}
	}
	v.Reasons = reasonsOf(d.Findings)
	short := d.Verify != nil && !d.Verify.Within
	switch {
	case size[finding.Error] > 0:
		v.Word, v.Level = "does not finish on size", html.Error
	case d.Verify == nil:
		v.Word, v.Level = "not proved", html.Warning
	case size[finding.Warning] > 0:
		v.Word, v.Level = v.Word+" except at "+plural(size[finding.Warning], "place", "places"), html.Warning
	case short:
		v.Word, v.Level = v.Word+" except where the proof names it", html.Warning
	}
	switch {
	case size[finding.Error] > 0: // says enough
	case other[finding.Error] > 0:
		v.Word, v.Level = v.Word+", but "+plural(other[finding.Error], "error stands", "errors stand")+" against the plan", html.Error
	case other[finding.Warning] > 0:
		v.Word, v.Level = v.Word+", with "+plural(other[finding.Warning], "warning", "warnings"), html.Warning
	}
	if scant && d.Verify != nil && size[finding.Error] == 0 {
		v.Word += ", with which it finishes undersize"
	}
	if d.has(unitCode) {
		v.Word += ", the unit in doubt"
		if v.Level == html.Good {
			v.Level = html.Warning
		}
	}
	if n := len(d.Recipe.Assumed); n > 0 {
		if size[finding.Error] == 0 {
			v.Word += ", if the assumed recipe holds"
		}
		if v.Level == html.Good {
			v.Level = html.Info
		}
		v.Reasons = append(v.Reasons, fmt.Sprintf("%d of the %d values of recipe %s are assumed: measure coupons before a part that matters", n, d.Recipe.Values, d.Recipe.Name))
	}
	return v
}

// reasonsOf tells the worst finding of each code, those about the size first.
func reasonsOf(fs []Finding) (reasons []string) {
	more := map[string]int{}
	for _, f := range fs {
		if f.Severity > finding.Info {
			more[f.Code]++
		}
	}
	for _, size := range [...]bool{true, false} {
		for _, f := range fs { // worst first
			n := more[f.Code]
			if f.Severity == finding.Info || n == 0 || sizeCodes[f.Code] != size || f.Code == assumedCode || len(reasons) == mostReasons {
				continue
			}
			more[f.Code] = 0 // told
			text := f.Code + ": " + f.Message
			if n > 1 {
				text += fmt.Sprintf(", and %d more", n-1)
			}
			reasons = append(reasons, text)
		}
	}
	return reasons
}

// has tells whether a finding of this code is there.
func (d *Document) has(code string) bool {
	return slices.ContainsFunc(d.Findings, func(f Finding) bool { return f.Code == code })
}

// assumedCode is the finding that names assumed values.
const assumedCode = "assumed_value"

// fixedCode is the finding that an allowance is given by hand; a warning where it is less than the computed one.
const fixedCode = "fixed_allowance"

// unitCode is the finding that the part looks to be in another unit.
const unitCode = "unit_doubt"
