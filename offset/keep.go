package offset

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh/finding"
	"skinstock/region"
)

// keep finds the facets that the job's zones take.
func (pl *Planned) keep(job Job) error {
	if len(job.Zones) == 0 {
		return nil
	}
	k, err := region.Keep(pl.Nominal, pl.Topo, pl.nominalTree(job.Workers), job.Zones)
	if err != nil {
		lo, hi := pl.Nominal.Bounds()
		return fmt.Errorf("%w; the part reaches from (%s) to (%s) mm", err, place(lo), place(hi))
	}
	pl.Kept, pl.masked = k, k.Masked()
	for _, m := range pl.masked {
		if !m {
			return nil
		}
	}
	return region.ErrAllMasked
}

func place(p r3.Vector) string { return fmt.Sprintf("%.4g, %.4g, %.4g", p.X, p.Y, p.Z) }

// Masked tells whether a keep zone masks facet f of Nominal: it gets no stock
// and the bath does not wet it.
func (pl *Planned) Masked(f int) bool { return pl.masked != nil && pl.masked[f] }

// kept tells whether a zone, masked or of stock, takes facet f.
func (pl *Planned) kept(f int) bool { return pl.Kept != nil && pl.Kept.Zone[f] != region.NoZone }

// TakenUM is the depth the bath takes at facet f of Nominal.
func (pl *Planned) TakenUM(f int) float64 {
	if pl.Masked(f) {
		return 0
	}
	return pl.Place(f).TakenUM
}

// applyZones puts the zones' stock in place of the computed allowances, and
// corrects the mass that the plan adds by it.
func (pl *Planned) applyZones(job Job) {
	if pl.Kept == nil {
		return
	}
	plain := pl.FacetMM
	pl.FacetMM = pl.Kept.Allowance(plain)
	var mm3 float64
	for f := range plain {
		if pl.kept(f) && !pl.masked[f] {
			mm3 += pl.Nominal.FacetArea(f) * (pl.FacetMM[f] - plain[f])
		}
	}
	pl.Plan.Bath.MassAddedG += mm3 / 1000 * job.Recipe.Material.DensityGPerCM3.Value
	for i := range pl.Kept.Zones {
		pl.noteZone(i, plain)
	}
}

// noteZone reports what is odd about a zone; plain are the allowances without zones.
func (pl *Planned) noteZone(i int, plain []float64) {
	z := &pl.Kept.Zones[i]
	if z.Straddle > 0 {
		pl.Findings = append(pl.Findings, finding.Finding{
			Code: "zone_straddled", Severity: finding.Info, Count: z.Straddle,
			Message: fmt.Sprintf("keep zone %q takes facets whole: %d more reach out of it and were left out", z.Label(), z.Straddle),
		})
	}
	if z.Contested > 0 {
		pl.Findings = append(pl.Findings, finding.Finding{
			Code: "zone_overlap", Severity: finding.Info, Count: z.Contested,
			Message: fmt.Sprintf("keep zone %q leaves %d facets to zones named before it", z.Label(), z.Contested),
		})
	}
	if z.Mask() {
		return
	}
	worst, at, n := 0.0, 0, 0
	for _, f := range pl.Kept.FacetsOf(i) {
		if lack := plain[f] - z.StockMM; lack > 0 {
			n++
			if lack > worst {
				worst, at = lack, int(f)
			}
		}
	}
	if n > 0 {
		p := facetCentre(pl.Nominal, at)
		pl.Findings = append(pl.Findings, finding.Finding{
			Code: "zone_stock_thin", Severity: finding.Warning, At: &p, SizeMM: worst, Count: n,
			Message: fmt.Sprintf("keep zone %q leaves %.3g mm of stock where bath and print call for %.3g mm: it would finish undersize before it is machined", z.Label(), z.StockMM, z.StockMM+worst),
			Remedy:  "give the zone more stock, or mask it",
		})
	}
}

// KeptCheck is how a keep zone came out on the grown part. Lengths are mm.
type KeptCheck struct {
	Datum      *region.Datum // nil for a stock zone
	Shortfall  float64       // greatest, against 0 where masked, else the zone's stock
	Excess     float64       // greatest, the same
	CoveredMM2 float64       // of the zone that lies under more than a micrometre too much
}

// coverTolMM is the excess from which a kept face counts as covered: the
// micrometre within which it stays exact.
const coverTolMM = 0.001

// keptOf maps the facets of Grown to those of Nominal; nil when facet i is
// facet i.
func (r *Result) keptOf() []int32 {
	if r.traced != nil {
		return r.traced
	}
	return r.NominalOf
}

// dry marks the facets of Grown that keep zones mask; nil for none.
func (r *Result) dry() []bool {
	of := r.keptOf()
	if r.masked == nil || of == nil {
		return r.masked
	}
	out := make([]bool, len(of))
	for g, f := range of {
		out[g] = f >= 0 && r.masked[f]
	}
	return out
}

// reach is how far a kept face may have moved in a grown part from elsewhere
// and still be found, mm: two allowances.
func (r *Result) reach() float64 { return 2 * r.mostAsked() }

// noteYielded reports how much stock is given up towards kept faces: by the
// slope, and around n points on their rims that cannot move far enough.
func (r *Result) noteYielded(n int) {
	if r.masked == nil {
		return
	}
	var area, worst float64
	at := 0
	for f, a := range r.Allowance {
		if r.masked[f] {
			continue
		}
		lack := r.FacetMM[f] - (a[0]+a[1]+a[2])/3
		if lack > coverTolMM {
			area += r.Nominal.FacetArea(f)
		}
		if lack > worst {
			worst, at = lack, f
		}
	}
	if area == 0 {
		return
	}
	place := facetCentre(r.Nominal, at)
	rims := ""
	if n > 0 {
		rims = fmt.Sprintf(", and points on rims cannot move as their faces ask (%d)", n)
	}
	r.Findings = append(r.Findings, finding.Finding{
		Code: "kept_blend", Severity: finding.Warning, At: &place, SizeMM: worst, Count: max(n, 1),
		Message: fmt.Sprintf("towards masked faces the stock falls off over %.3g mm2, by up to %.1f um of what is called for%s: there the bath takes more than was added",
			area, worst*umPerMM, rims),
		Remedy: "mask up to a sharp edge, refine the mesh beside the zone, or give it stock in place of a mask",
	})
}

// checkKept measures the kept faces of the grown part and reports those that
// are not what they should be.
func (r *Result) checkKept(ctx context.Context) error {
	if r.Kept == nil {
		return nil
	}
	datums, err := region.CheckDatums(r.Nominal, r.Grown, r.keptOf(), r.traced == nil, r.Kept)
	if err != nil {
		return err
	}
	r.KeptChecks = make([]KeptCheck, len(r.Kept.Zones))
	for i := range datums {
		d := &datums[i]
		r.KeptChecks[d.Zone].Datum = d
		r.noteDatum(d)
	}
	if r.Proof != nil {
		for f, z := range r.Kept.Zone {
			if z == region.NoZone {
				continue
			}
			c, d := &r.KeptChecks[z], r.Proof.FacetDeviation[f]
			c.Shortfall, c.Excess = max(c.Shortfall, -d), max(c.Excess, d)
			if d > coverTolMM {
				c.CoveredMM2 += r.Nominal.FacetArea(f)
			}
		}
		r.noteCovered()
	}
	return ctx.Err()
}

// noteDatum reports a masked face that changed.
func (r *Result) noteDatum(d *region.Datum) {
	if d.Unchanged {
		return
	}
	at := facetCentre(r.Nominal, int(r.Kept.FacetsOf(d.Zone)[0]))
	f := finding.Finding{
		Code: "kept_changed", Severity: finding.Error, At: &at, Count: 1, SizeMM: max(d.ShiftMM, d.LiftMM, math.Abs(d.LargerMM)),
		Message: "kept face " + d.String(), Remedy: "do not machine or fit from this face; give the zone room, or stock in place of a mask",
	}
	if d.Still() {
		f.Severity = finding.Warning
		f.Message = fmt.Sprintf("kept face %s: in place, but of %d facets nothing is left: what grew beside it covers them", d.Name, d.Missing)
		f.Remedy = "look at the place in the pictures; move the neighbouring face away, or mask it too"
	}
	r.Findings = append(r.Findings, f)
}

// coveredShare is the share of a kept face from which its covering is reported.
const coveredShare = 0.01

// noteCovered reports kept faces that stock of their neighbours covers, as
// walls that grow over the floor at their foot.
func (r *Result) noteCovered() {
	for i, c := range r.KeptChecks {
		z := &r.Kept.Zones[i]
		if !z.Mask() || c.CoveredMM2 < coveredShare*z.AreaMM2 {
			continue
		}
		r.Findings = append(r.Findings, finding.Finding{
			Code: "kept_covered", Severity: finding.Warning, Count: 1, SizeMM: math.Sqrt(c.CoveredMM2),
			Message: fmt.Sprintf("about %.3g of %.3g mm2 of kept face %q lie under stock of the faces beside it", c.CoveredMM2, z.AreaMM2, z.Label()),
			Remedy:  "mask the faces beside it too, or expect a step at its rim after the bath",
		})
	}
}

// coarse is how many allowances long a facet beside a masked one may be for
// stock to be topped up on it.
const coarse = 20

// heldVertices marks, among n moved vertices, those that no stock is topped up on:
// of masked facets, of coarse ones beside them, and of facets that were held
// back while growing. Beside a corner that cannot move, lifting the others of a long
// facet tilts it more than it adds.
func (r *Result) heldVertices(n int) []bool {
	m, corners := r.Nominal, r.corners()
	held := make([]bool, n)
	if r.shape != nil {
		for v := int(r.shape.HeldFrom); v < n; v++ {
			held[v] = true
		}
	}
	if r.masked == nil {
		return held
	}
	mark := func(out []bool, f int) {
		for _, v := range corners[f] {
			out[v] = true
		}
	}
	rim := make([]bool, n)
	for f, yes := range r.masked {
		if yes {
			mark(rim, f)
		}
	}
	for v, yes := range rim {
		held[v] = held[v] || yes
	}
	out := slices.Clone(held)
	for f, t := range corners {
		a, b, c := m.Triangle(f)
		if (rim[t[0]] || rim[t[1]] || rim[t[2]]) && max(a.Distance(b), b.Distance(c), c.Distance(a)) > coarse*r.FacetMM[f] {
			mark(out, f)
		}
	}
	return out
}
