package offset

import "skinstock/offset/verify"

// lacking is the stock that a state of the grown surface lacks.
type lacking struct {
	lacks   []verify.Lack // seen from the grown surface
	facet   []float64     // of every nominal facet at worst, mm: on itself, at its corners, and seen from the facets of the grown surface that are of it
	deepest float64       // of these, mm
	missing float64       // volume, with depth counted once more so that deep places weigh, mm4
	bare    float64       // how deep at most the part itself lies open, mm: what a facet lacks beyond all of its stock, which no cover would give back
}

// lacking returns what the proof says of Grown.
func (r *Result) lacking(w *verify.Watch) lacking {
	l := lacking{lacks: w.Lacks(), facet: w.Short()}
	for f, d := range l.facet {
		if d > 0 {
			a := r.Allowance[f]
			l.bare = max(l.bare, d-max(a[0], a[1], a[2]))
		}
	}
	for _, k := range l.lacks {
		f := r.nominalOf(k.Facet)
		l.facet[f] = max(l.facet[f], k.By)
	}
	for f, d := range l.facet {
		l.deepest = max(l.deepest, d)
		if d > topUpTolMM {
			l.missing += d * d * r.Nominal.FacetArea(f)
		}
	}
	return l
}
