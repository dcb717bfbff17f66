package verify

import "skinstock/mesh"

// besides is how far beside a spot it is asked as well, by what it lacks: where
// another face stands upright over it, it reads nothing.
const besides = 2

// spot is a place of the nominal surface that a place of the grown one, on facet
// fold, comes near to.
type spot struct {
	fold, facet int32 // facet of the nominal mesh
	at          place
	by          float64 // how much it seems to lack, mm
	beside      bool    // ask beside it as well when that does not show
	along       float64 // share of the way along the piece of the fold, where outside,
	outside     bool    // at which the grown surface is asked
	asked       bool    // and these are the answer, of the place asked that is shortest:
	short       float64
	worst       place
}

// onSpots measures a group's spots from the nominal side: also where nothing of
// the group changed, since all of the grown surface around them counts.
func (s *grownSamples) onSpots(w *outsideGroup) {
	w.spotLacks = w.spotLacks[:0]
	for i := range w.spots {
		e := &w.spots[i]
		f, g := int(e.fold), int(e.facet)
		if !e.asked || e.short > 0 || s.only == nil || s.only[g] { // what is short can see further than its facet
			s.ask(e)
		}
		if e.short > Resolution {
			x := e.worst.of(s.nominal.Triangle(g))
			w.spotLacks = append(w.spotLacks, Lack{
				Facet: f, K: -1, Out: s.nominal.FacetNormal(g), By: e.short, Foot: g, At: x, Above: s.tree.Closest(x, f).Point,
			})
		}
	}
}

// ask measures a spot. Where another face stands upright over it, only places beside it are short.
func (s *grownSamples) ask(e *spot) {
	e.asked, e.short, e.worst = true, s.at(e, e.at), e.at
	if !e.beside || e.short > e.by/2 {
		return
	}
	for k := range 3 {
		p := e.towards(k, s.nominal)
		if short := s.at(e, p); short > e.short {
			e.short, e.worst = short, p
		}
	}
}

// at measures place p of the facet of a spot.
func (s *grownSamples) at(e *spot, p place) float64 {
	g := int(e.facet)
	x := p.of(s.nominal.Triangle(g))
	return s.facet(x, s.directed(g), s.wanted.At(g, p[0], p[1], p[2]), slopeCos(s.nominal, s.wanted, g), int(e.fold)).short
}

// towards is the place beside the spot towards corner k of its facet, but not beyond half way.
func (e *spot) towards(k int, m *mesh.Mesh) place {
	x := e.at.of(m.Triangle(int(e.facet)))
	s := min(share(besides*e.by, m.Corner(int(e.facet), k).Distance(x)), 0.5)
	p := e.at
	for l := range p {
		p[l] *= 1 - s
	}
	p[k] += s
	return p
}
