package screen

import (
	"fmt"

	"skinstock/mesh/finding"
)

// gaps measures the distance between facing skins and says where it closes
// when they grow, or holds powder.
func (p *part) gaps() (Least, []finding.Finding) {
	pairs := p.pairs(false)
	var out []finding.Finding
	for _, g := range p.near(pairs, func(q facingPair) bool { return q.mm-q.grow < p.lim.MinGapMM }) {
		if g.area < p.lim.MinPatchMM2 {
			continue
		}
		q := g.worst
		s := &p.samples[q.sample]
		at := s.at.Add(p.normal[s.facet].Mul(q.mm / 2))
		f := finding.Finding{Code: "closing_gap", At: &at, SizeMM: q.mm, Count: 1}
		grown := q.mm - q.grow
		switch {
		case grown <= 0:
			f.Severity = finding.Error
			f.Message = fmt.Sprintf("gap of %.3f mm closes when both sides grow by %.3f mm together, %s mm2 of skin", q.mm, q.grow, tenths(g.area))
		default:
			f.Severity = finding.Warning
			f.Message = fmt.Sprintf("gap of %.3f mm leaves %.3f mm as printed, less than the %.2f mm through which powder comes out (%s), %s mm2 of skin", q.mm, grown, p.lim.MinGapMM, assumed(p.lim.Origins.MinGap), tenths(g.area))
		}
		f.Remedy = fmt.Sprintf("widen it to at least %.2f mm, or close it and cut it after the bath", p.lim.MinGapMM+q.grow)
		out = append(out, f)
	}
	return p.least(pairs), limited(alike(out))
}
