package screen

import (
	"fmt"
	"math"

	"skinstock/mesh/finding"
)

func (b *Bore) name() string {
	what := "blind hole"
	switch {
	case b.Curved:
		what = "curved channel"
	case b.Threaded:
		what = "threaded hole"
	case b.OpenEnds == 2:
		what = "through hole"
	case b.OpenEnds == 0:
		what = "inner hole"
	}
	mean := ""
	if b.Threaded {
		mean = "mean "
	}
	return fmt.Sprintf("%s of %sdiameter %.2f mm, %.2f mm deep", what, mean, b.DiameterMM, b.DepthMM)
}

// boreFindings tells threads, and which other holes the bath does not reach, like ones together.
func (p *part) boreFindings(bores []Bore) []finding.Finding {
	type kind struct {
		d, l   int
		open   int
		narrow bool
	}
	index := map[kind]int{}
	var out []finding.Finding
	for i := range bores {
		b := &bores[i]
		reached := b.Reach.UnreachedMM <= 0.02*b.DepthMM
		if reached && !b.Threaded {
			continue
		}
		k := kind{int(math.Round(50 * math.Log(b.DiameterMM))), int(math.Round(20 * math.Log(b.DepthMM))), b.OpenEnds, b.Reach.TooNarrow}
		if j, ok := index[k]; ok {
			out[j].Count++
			continue
		}
		index[k] = len(out)
		at := b.At
		reach := "reached by the recipe's limit"
		if !reached {
			reach = b.Reach.says(p.lim, "diameters", b.OpenEnds == 2, b.DiameterMM)
		}
		if b.Threaded {
			out = append(out, finding.Finding{
				Code: "thread", Severity: finding.Warning, At: &at, SizeMM: b.DiameterMM, Count: 1,
				Message: b.name() + ": its flanks neither print on size nor leave the bath sharp; " + reach,
				Remedy:  "cut the thread after the bath, or mask it",
			})
			continue
		}
		f := finding.Finding{Code: "bore_unreached", Severity: finding.Warning, At: &at, SizeMM: b.DiameterMM, Count: 1, Message: b.name() + ": " + reach}
		if b.Reach.slight(b.DepthMM) {
			f.Severity = finding.Info
		}
		switch {
		case b.Reach.TooNarrow && b.OpenEnds < 2:
			f.Remedy = "drill it after the bath, or make it wider"
		case b.OpenEnds == 2:
			f.Remedy = "use an inner cathode or forced flow, or give it stock and machine it after the bath"
		case b.OpenEnds == 0:
			f.Remedy = "open a way to the bath, or take its allowance off"
		default:
			f.Remedy = "make it a through hole, shorten it, or machine it after the bath"
		}
		out = append(out, f)
	}
	return counted(out)
}
