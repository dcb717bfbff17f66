package offset

import (
	"skinstock/mesh"
	"skinstock/offset/verify"
)

// lacking is the stock that a state of the grown surface lacks.
type lacking struct {
	lacks   []verify.Lack // seen from the grown surface
	facet   []float64     // of every nominal facet at worst, mm: on itself, at its corners, and seen from the facets of the grown surface that are of it
	short   []int32       // the facets that lack more than topUpTolMM, ascending
	deepest float64       // of these, mm
	missing float64       // volume, with depth counted once more so that deep places weigh, mm4
	bare    float64       // how deep at most the part itself lies open, mm: what a facet lacks beyond all of its stock, which no cover would give back
}

// lacking returns what the proof says of Grown.
func (r *Result) lacking(w *verify.Watch, workers int) lacking {
	l := lacking{lacks: w.Lacks(), facet: w.Short()}
	l.bare = mesh.Most(len(l.facet), workers, func(f int) float64 {
		if l.facet[f] == 0 {
			return 0
		}
		a := &r.Allowance[f]
		return l.facet[f] - max(a[0], a[1], a[2])
	})
	for _, k := range l.lacks {
		f := r.nominalOf(k.Facet)
		l.facet[f] = max(l.facet[f], k.By)
	}
	l.deepest = mesh.Most(len(l.facet), workers, func(f int) float64 { return l.facet[f] })
	l.short = mesh.Which(len(l.facet), workers, func(f int) bool { return l.facet[f] > topUpTolMM })
	for _, f := range l.short {
		d := l.facet[f]
		l.missing += d * d * r.Nominal.FacetArea(int(f))
	}
	return l
}
