package screen

import (
	"fmt"
	"math"

	"skinstock/mesh/finding"
)

func (s *Slot) name() string {
	what := "slot"
	if s.OpenEnds == 2 {
		what = "through slot"
	}
	return fmt.Sprintf("%s %.2f mm wide, %.2f mm deep, %.1f mm long", what, s.WidthMM, s.DepthMM, s.LengthMM)
}

// slotFindings says which slots the bath does not reach, like ones together.
func (p *part) slotFindings(slots []Slot) []finding.Finding {
	type kind struct{ w, d, open int }
	index := map[kind]int{}
	var out []finding.Finding
	for i := range slots {
		s := &slots[i]
		if s.Reach.UnreachedMM <= 0.02*s.DepthMM {
			continue
		}
		k := kind{int(math.Round(20 * math.Log(s.WidthMM))), int(math.Round(20 * math.Log(s.DepthMM))), s.OpenEnds}
		if j, ok := index[k]; ok {
			out[j].Count++
			continue
		}
		index[k] = len(out)
		at := s.At
		f := finding.Finding{
			Code: "slot_unreached", Severity: finding.Warning, At: &at, SizeMM: s.WidthMM, Count: 1,
			Message: fmt.Sprintf("%s: %s", s.name(), s.Reach.says(p.lim, "widths", s.OpenEnds == 2, s.WidthMM)),
			Remedy:  "widen it, open it at both ends, or machine it after the bath",
		}
		if s.Reach.slight(s.DepthMM) {
			f.Severity = finding.Info
		}
		if s.OpenEnds == 2 {
			f.Remedy = "widen it, use an inner cathode or forced flow, or machine it after the bath"
		}
		out = append(out, f)
	}
	return limited(counted(out))
}
