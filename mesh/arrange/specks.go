package arrange

import "skinstock/mesh"

// crumbDepthMM is the depth below which a loose shell with a cut is noted as a crumb.
const crumbDepthMM = 0.1

// specks looks at the shells that cutting made: hollows that no cavity of the
// input accounts for, and loose bits of metal. Small ones are taken out, all are noted.
func (r *resolver) specks() {
	s := r.s
	sh := s.shells()
	vol, n := s.volumes(sh), sh.n
	list := make([]Speck, n)
	fromCavity, cut := make([]bool, n), make([]bool, n)
	for f, c := range sh.of {
		list[c].DepthMM += 0.5 * s.areaNormal(int32(f)).Norm() // the area, for now
		list[c].At = s.at[s.facets[f][0]]
		fromCavity[c] = fromCavity[c] || r.cavity[s.facet[f]]
		for _, v := range s.facets[f] {
			cut[c] = cut[c] || s.vertex[v] == mesh.None || s.moved[v]
		}
	}
	for p, c := range sh.far {
		if c >= 0 {
			list[c].DepthMM += s.rest.area[p]
			fromCavity[c] = fromCavity[c] || s.rest.cavity[p]
		}
	}
	r.report.Voids, r.report.Crumbs = dropped(r.report.Voids), dropped(r.report.Crumbs)
	drop := make([]bool, n)
	any := false
	for c := range n {
		sp := &list[c]
		sp.VolumeMM3 = vol[c] / 6
		sp.DepthMM = 3 * sp.VolumeMM3 / sp.DepthMM
		switch {
		case !cut[c]:
			continue
		case vol[c] <= 0 && fromCavity[c]:
			continue
		case vol[c] <= 0:
			sp.VolumeMM3, sp.DepthMM = -sp.VolumeMM3, -sp.DepthMM
			sp.Dropped = sp.VolumeMM3 <= r.opt.DropVoidsMM3 && sp.DepthMM <= r.opt.DropVoidsMM
			r.report.Voids = append(r.report.Voids, *sp)
		case n > 1 && sp.DepthMM < max(crumbDepthMM, r.opt.DropCrumbsMM):
			sp.Dropped = sp.DepthMM <= r.opt.DropCrumbsMM
			r.report.Crumbs = append(r.report.Crumbs, *sp)
		}
		drop[c] = sp.Dropped
		any = any || sp.Dropped
	}
	if any {
		s.keep(sh, drop)
	}
}

// dropped returns the specks of earlier rounds that are gone; what was only
// noted is noted again.
func dropped(list []Speck) []Speck {
	var out []Speck
	for _, s := range list {
		if s.Dropped {
			out = append(out, s)
		}
	}
	return out
}
