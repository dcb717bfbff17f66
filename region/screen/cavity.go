package screen

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh/finding"
)

// sheetMM is the mean thickness below which a closed shell bounds nothing:
// what an exporter leaves behind, thinner than any powder grain.
const sheetMM = 1e-3

// cavities sorts the shells: hollows in the metal, sheets that bound nothing,
// bodies inside the metal of others. It marks the facets of hollows and of
// sheets, which the rules about the skin leave alone.
func (p *part) cavities() (cavities []Cavity, strays []Stray) {
	p.hollow = make([]bool, len(p.m.Facets))
	p.stray = make([]bool, len(p.m.Facets))
	sheet := func(s int) bool {
		sh := &p.shells[s]
		return sh.Closed && 2*math.Abs(sh.VolumeMM3) < sheetMM*sh.AreaMM2
	}
	number := make([]int, len(p.shells)) // of the cavity that a shell bounds
	for i := range p.shells {
		number[i] = -1
		sh := &p.shells[i]
		switch {
		case sheet(i):
			for _, f := range sh.Facets {
				p.stray[f] = true
			}
			strays = append(strays, Stray{Kind: Sheet, At: p.on(sh.Facets), MM3: sh.VolumeMM3})
		case sh.Cavity:
			number[i] = len(cavities)
			cavities = append(cavities, Cavity{At: p.on(sh.Facets), VolumeMM3: -sh.VolumeMM3, AreaMM2: sh.AreaMM2})
		}
	}
	for i := range p.shells {
		sh := &p.shells[i]
		if sheet(i) {
			continue
		}
		// The way outwards, past sheets, to the first cavity.
		up := sh.Parent
		for up >= 0 && sheet(up) {
			up = p.shells[up].Parent
		}
		if !sh.Cavity && up >= 0 {
			if c := number[up]; c >= 0 {
				cavities[c].Loose++
				cavities[c].VolumeMM3 -= sh.VolumeMM3
			} else {
				strays = append(strays, Stray{Kind: Nested, At: p.on(sh.Facets), MM3: sh.VolumeMM3})
			}
		}
		for a := i; a >= 0; a = p.shells[a].Parent {
			if number[a] >= 0 {
				for _, f := range sh.Facets {
					p.hollow[f] = true
				}
				break
			}
		}
	}
	return cavities, strays
}

// on returns a place on the largest facet of a shell.
func (p *part) on(facets []int32) r3.Vector {
	best := facets[0]
	for _, f := range facets {
		if p.area[f] > p.area[best] {
			best = f
		}
	}
	return p.m.Centroid(int(best))
}

func (p *part) cavityFindings(cavities []Cavity, strays []Stray) []finding.Finding {
	var out []finding.Finding
	for _, c := range cavities {
		at := c.At
		msg := fmt.Sprintf("closed cavity of %s, %.0f mm2 of wall: the bath never gets in, powder stays inside", volume(c.VolumeMM3), c.AreaMM2)
		switch {
		case c.Loose == 1:
			msg += ", and a loose body lies in it"
		case c.Loose > 1:
			msg += fmt.Sprintf(", and %d loose bodies lie in it", c.Loose)
		}
		out = append(out, finding.Finding{
			Code: "closed_cavity", Severity: finding.Error, Message: msg, At: &at, Count: 1,
			SizeMM: math.Cbrt(6 * max(c.VolumeMM3, 0) / math.Pi),
			Remedy: "open it with two holes, one at its lowest and one at its highest place, or fill it",
		})
	}
	for _, k := range []StrayKind{Sheet, Nested} {
		f := finding.Finding{Code: "stray_shell", Severity: finding.Info}
		var mm3 float64
		for _, s := range strays {
			if s.Kind == k {
				if f.Count == 0 {
					at := s.At
					f.At = &at
				}
				f.Count++
				mm3 += s.MM3
			}
		}
		switch {
		case f.Count == 0:
			continue
		case k == Sheet:
			f.Message = "closed shells without volume, thinner than a micrometre: left out of the screening, no cavities"
			f.Remedy = "remove them from the file"
		default:
			f.Message = fmt.Sprintf("bodies inside the metal of another, %s together: metal in metal, no cavities", volume(mm3))
			f.Remedy = "unite the bodies before writing the file, or reverse them where hollows are meant"
			f.Severity = finding.Warning
		}
		out = append(out, f)
	}
	return out
}
