package screen

import (
	"slices"

	"skinstock/mesh/finding"
)

// Verdict is the answer in one word.
type Verdict string

// Verdicts, as the report writes them.
const (
	Suited     Verdict = "suited"
	WithChange Verdict = "suited_with_changes"
	NotSuited  Verdict = "not_suited"
)

// Reason is a finding that speaks against the part as it is.
type Reason struct {
	Code    string
	Weight  finding.Severity // what the finding weighs for the purpose
	Message string
	Change  string // what to change
}

// weights are the findings that count more or less for a purpose than by
// themselves. They are judgements of this program and no standard's (references.md section 11).
var weights = map[Purpose]map[string]finding.Severity{
	Fatigue: {"bore_unreached": finding.Error, "slot_unreached": finding.Error, "channel_unreached": finding.Error, "sharp_edge": finding.Warning},
	Flow:    {"bore_unreached": finding.Error, "slot_unreached": finding.Error, "channel_unreached": finding.Error},
	Penetrant: {
		"bore_unreached": finding.Error, "slot_unreached": finding.Error, "channel_unreached": finding.Error,
		"closing_gap": finding.Error, "gas_pocket": finding.Error, "liquid_trap": finding.Error,
	},
	Coating:    {"sharp_edge": finding.Warning, "clamp_spot": finding.Warning},
	Appearance: {"bore_unreached": finding.Info, "slot_unreached": finding.Info, "channel_unreached": finding.Info, "clamp_spot": finding.Warning},
	Size:       {"sharp_edge": finding.Warning, "inside_corner": finding.Warning, "clamp_spot": finding.Warning},
}

// judge weighs sorted findings for a purpose: one error makes the part
// unsuited as it is, one warning asks for changes.
func judge(purpose Purpose, fs []finding.Finding) (Verdict, []Reason) {
	var reasons []Reason
	v := Suited
	for _, f := range fs {
		w, ok := weights[purpose][f.Code]
		if !ok {
			w = f.Severity
		}
		w = min(w, f.Severity+1) // a slight case of it weighs a step more, no two
		switch w {
		case finding.Error:
			v = NotSuited
		case finding.Warning:
			if v == Suited {
				v = WithChange
			}
		default:
			continue
		}
		reasons = append(reasons, Reason{Code: f.Code, Weight: w, Message: f.Message, Change: f.Remedy})
	}
	slices.SortStableFunc(reasons, func(a, b Reason) int { return int(b.Weight) - int(a.Weight) })
	return v, reasons
}

func errorsOf(fs []finding.Finding) (out []finding.Finding) {
	for _, f := range fs {
		if f.Severity == finding.Error {
			out = append(out, f)
		}
	}
	return out
}
