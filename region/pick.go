package region

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

const (
	// pickReach is how far beyond the nearest facet a feature is looked for, as
	// a multiple of that facet's distance: from a point on the axis of a bore the
	// rim of its mouth may be nearer than its wall, at most by rounding and chord.
	pickReach = 1.5
	pickSlack = 0.05 // mm, the same for points on the surface itself
	mostSeeds = 64   // facets tried in vain before giving up
	mostFlat  = 2048 // likewise of flat surface, as of the rim around a bore's mouth

	// planeTol is how far a corner may lie off a plane, in mm, and bendTol the
	// sine between a facet and its plane: sheets of CAD parts are flat to the
	// rounding of single precision, cut faces of voxel-born ones to a micrometre.
	planeTol     = 0.003
	bendTol      = 0.1
	mostFlatness = 4 * planeTol
	fairShare    = 0.1 // of the largest plane about as near

	// roundTol is how far a corner may lie off a cylinder, as a share of its
	// radius and in mm; tiltTol is the sine between a facet's normal and the
	// plane across the axis. Corners of tessellated bores lie on them.
	roundTol   = 0.01
	roundTolMM = 0.005
	tiltTol    = 0.2

	// leastRadial is the cosine between a facet's normal and the radius at its
	// middle: 10 degrees on a hexagon, more on corners of a box that happen to
	// lie on a cylinder.
	leastRadial = 0.9

	bendOfSeed  = 0.7  // cosine of the widest turn between facets of one bore: below an octagon it is a polygon
	leastBend   = 1e-3 // middle over greatest spread of the normals of a curved patch
	leastCover  = 150  // degrees of a bore that must be there
	seedFacets  = 32   // facets around a seed from which its axis is guessed, at most
	pickRefits  = 5
	roughFacets = 150  // of a bore are enough to see how it goes on
	noiseHeight = 1e-4 // mm, below which a facet's normal is left out of account
)

// ErrNoFeature is returned when no bore or plane lies near a picked point.
var ErrNoFeature = errors.New("no such feature lies there")

// picker finds features around points.
type picker struct {
	m    *mesh.Mesh
	topo *mesh.Topology
	tree *bvh.Tree

	patch int     // facets around a seed from which an axis is guessed, at most; seedFacets when below
	cover float64 // degrees that a bore must reach around its axis; leastCover when below

	fits fitter

	seen  []int32 // number of the flood that came by each facet last
	flown int32
}

func newPicker(m *mesh.Mesh, topo *mesh.Topology) *picker {
	return &picker{m: m, topo: topo, fits: fitter{m: m}}
}

// finePatch is the patch for a single pick, where time counts less: 512 facets
// of a fine mesh still bend enough to show an axis.
const finePatch = 512

// seeds returns the facets nearest to p, nearest first.
func (k *picker) seeds(p r3.Vector) []int32 {
	h := k.tree.Closest(p, bvh.NoHint)
	if h.Facet < 0 {
		return nil
	}
	type near struct {
		f          int32
		dist, area float64
	}
	var all []near
	k.tree.VisitBall(p, h.Dist*pickReach+pickSlack, func(f int) bool {
		all = append(all, near{int32(f), k.m.Centroid(f).Distance(p), k.m.FacetArea(f)})
		return true
	})
	slices.SortFunc(all, func(x, y near) int {
		return cmp.Or(cmp.Compare(x.dist, y.dist), cmp.Compare(y.area, x.area), cmp.Compare(x.f, y.f))
	})
	out := []int32{int32(h.Facet)}
	for _, n := range all {
		if n.f != out[0] {
			out = append(out, n.f)
		}
	}
	return out
}

// flood returns seed and the facets joined to it over edges that may be
// crossed, ascending; it stops when there are limit of them.
func (k *picker) flood(seed int32, limit int, may func(from, to int32) bool) []int32 {
	if k.seen == nil {
		k.seen = make([]int32, len(k.m.Facets))
	}
	k.flown++
	k.seen[seed] = k.flown
	out := []int32{seed}
	for i := 0; i < len(out) && len(out) < limit; i++ {
		for e := 3 * out[i]; e < 3*out[i]+3; e++ {
			t := k.topo.Twin[e]
			if t == mesh.None || k.seen[t/3] == k.flown || !may(out[i], t/3) {
				continue
			}
			k.seen[t/3] = k.flown
			out = append(out, t/3)
		}
	}
	slices.Sort(out)
	return out
}

// thin tells whether facet f is so low that only its corners mean something.
func (k *picker) thin(f int32) bool { return isFlat(k.m, int(f), noiseHeight) }

// plane returns the plane face nearest to p: the first that is not small
// beside the others that are as near, since every facet of a curved face and
// every sliver is a plane of its own.
func (k *picker) plane(p r3.Vector) ([]int32, PlaneFit, error) {
	type candidate struct {
		facets []int32
		fit    PlaneFit
		area   float64
	}
	var all []candidate
	most, taken, tried := 0.0, map[int32]bool{}, 0
	for _, s := range k.seeds(p) {
		if k.thin(s) || taken[s] {
			continue
		}
		if tried++; tried > mostSeeds {
			break
		}
		facets, fit, err := k.planeFrom(s)
		if err != nil {
			continue
		}
		c := candidate{facets: facets, fit: fit}
		for _, f := range facets {
			taken[f] = true
			c.area += k.m.FacetArea(int(f))
		}
		most = max(most, c.area)
		all = append(all, c)
	}
	if d := k.tree.Closest(p, bvh.NoHint).Dist; d > k.astray() {
		return nil, PlaneFit{}, fmt.Errorf("plane near %s: %w: the surface is %.3g mm away; give a point within %.3g mm of the face", triple(p), ErrNoFeature, d, k.astray())
	}
	for _, c := range all {
		if c.area >= fairShare*most {
			return c.facets, c.fit, nil
		}
	}
	return nil, PlaneFit{}, fmt.Errorf("plane near %s: %w", triple(p), ErrNoFeature)
}

// astrayMM and astrayShare bound how far from a feature a picked point may
// lie: read off a drawing in round figures, or a hundredth of the part.
const (
	astrayMM    = 2.0
	astrayShare = 0.01
)

// astray is that distance for the part, mm.
func (k *picker) astray() float64 {
	lo, hi := k.m.Bounds()
	return max(astrayMM, astrayShare*hi.Sub(lo).Norm())
}

// rough writes a place for a message.
func rough(p r3.Vector) string { return fmt.Sprintf("%.4g,%.4g,%.4g", p.X, p.Y, p.Z) }

// planeFrom grows a plane from a facet.
func (k *picker) planeFrom(seed int32) ([]int32, PlaneFit, error) {
	a, _, _ := k.m.Triangle(int(seed))
	fit := PlaneFit{Point: a, Normal: k.m.FacetNormal(int(seed))}
	var facets []int32
	for range pickRefits {
		grown := k.flood(seed, len(k.m.Facets), func(_, f int32) bool { return k.onPlane(f, fit) })
		if slices.Equal(grown, facets) {
			break
		}
		facets = grown
		next, err := k.fits.plane(facets)
		if err != nil {
			return nil, fit, err
		}
		fit = next
	}
	if fit.FlatnessMM > mostFlatness {
		return nil, fit, errNoFit
	}
	return facets, fit, nil
}

func (k *picker) onPlane(f int32, fit PlaneFit) bool {
	for i := range 3 {
		if math.Abs(k.m.Corner(int(f), i).Sub(fit.Point).Dot(fit.Normal)) > planeTol {
			return false
		}
	}
	if k.thin(f) {
		return true
	}
	n := k.m.FacetNormal(int(f))
	return n.Dot(fit.Normal) > 0 && n.Cross(fit.Normal).Norm() < bendTol
}

// bore returns the bore that p lies in: the nearest whose length holds p, or
// else the nearest of all.
func (k *picker) bore(p r3.Vector) ([]int32, BoreFit, error) {
	var facets []int32
	var fit BoreFit
	found, taken, failed, flat := false, map[int32]bool{}, 0, 0
	for _, s := range k.seeds(p) {
		if k.thin(s) || taken[s] {
			continue
		}
		fs, b, err := k.roundFrom(s)
		if errors.Is(err, errNoBend) {
			if flat++; flat == mostFlat {
				break
			}
			continue
		}
		if err != nil || b.Shaft || b.CoverDegrees < leastCover {
			if failed++; failed == mostSeeds {
				break
			}
			continue
		}
		if b.holds(p) {
			facets, fit, found = fs, b, true
			break
		}
		if !found {
			facets, fit, found = fs, b, true
		}
		for _, f := range fs {
			taken[f] = true
		}
	}
	switch {
	case !found:
		return nil, fit, fmt.Errorf("bore near %s: %w", triple(p), ErrNoFeature)
	case fit.radius(p)-fit.DiameterMM/2 > k.astray() || fit.beyond(p) > max(fit.DiameterMM, k.astray()):
		return nil, fit, fmt.Errorf("bore near %s: %w: the nearest is that of diameter %.4g mm about %s", triple(p), ErrNoFeature, fit.DiameterMM, rough(fit.Middle))
	}
	return facets, fit, nil
}

// beyond returns how far p lies beyond the ends of the bore along its axis, negative between them.
func (b *BoreFit) beyond(p r3.Vector) float64 {
	return math.Abs(p.Sub(b.Middle).Dot(b.Axis)) - b.LengthMM/2
}

// holds tells whether p lies in the bore.
func (b *BoreFit) holds(p r3.Vector) bool {
	return b.beyond(p) <= 0 && b.radius(p) <= 1.05*b.DiameterMM/2
}

// roundFrom grows a cylinder from a facet: its neighbours' normals give a
// first axis, then fitting and growing take turns. Flat surface gives errNoBend.
func (k *picker) roundFrom(seed int32) ([]int32, BoreFit, error) {
	why := errNoBend
	for n := 4; n <= max(k.patch, seedFacets); n *= 2 {
		facets := k.flood(seed, n, func(from, to int32) bool {
			return k.thin(to) || k.thin(from) || k.m.FacetNormal(int(from)).Dot(k.m.FacetNormal(int(to))) > bendOfSeed
		})
		if _, bend, ok := axisOf(k.m, facets); !ok || bend < leastBend {
			continue
		}
		why = errNoFit
		if facets, fit, err := k.roundOver(seed, facets); err == nil {
			return facets, fit, nil
		}
	}
	return nil, BoreFit{}, why
}

// roundOver refits and regrows until the facets stay the same. On the way a rough
// fit to some of many facets will do; what looks like a bore then is fitted to
// all. What stops growing far short of a bore is returned as it is.
func (k *picker) roundOver(seed int32, facets []int32) ([]int32, BoreFit, error) {
	o, pts, ok := k.fits.fit(facets, nearlySettled)
	for i := 0; ok && i < pickRefits; i++ {
		grown := k.flood(seed, len(k.m.Facets), func(_, f int32) bool { return k.onRound(f, &o) })
		if slices.Equal(grown, facets) {
			break
		}
		slow := len(grown)*growth < len(facets)*(growth+1)
		facets = grown
		o, pts, ok = k.fits.fit(some(facets), nearlySettled)
		if !ok || !slow {
			continue
		}
		if fit := o.measure(k.m, some(facets), pts); !k.promises(&fit) {
			return facets, fit, nil
		}
	}
	if !ok {
		return nil, BoreFit{}, errNoFit
	}
	if fit := o.measure(k.m, some(facets), pts); !k.promises(&fit) {
		return facets, fit, nil
	}
	fit, err := k.fits.bore(facets)
	if err != nil {
		return nil, fit, err
	}
	facets = k.tight(facets, fit)
	if _, there := slices.BinarySearch(facets, seed); !there {
		return nil, fit, errNoFit
	}
	return facets, fit, nil
}

// growth is the share by which facets must have become more if they are to grow on: one in four.
const growth = 4

// promises tells whether a rough fit may be that of a bore.
func (k *picker) promises(fit *BoreFit) bool {
	return !fit.Shaft && fit.CoverDegrees >= max(leastCover, k.cover)/2
}

// some returns no more than roughFacets of the facets, spread by the golden
// ratio: a bore's facets may be numbered ring by ring, and even steps through
// them could keep to one side of it.
func some(facets []int32) []int32 {
	if len(facets) <= roughFacets {
		return facets
	}
	out := make([]int32, roughFacets)
	for i := range out {
		_, at := math.Modf(float64(i) / math.Phi)
		out[i] = facets[int(at*float64(len(facets)))]
	}
	return out
}

// tight returns the facets whose corners lie on the fitted cylinder; what the
// mesher chamfered at the rims of a voxel-born bore is not of the bore.
func (k *picker) tight(facets []int32, fit BoreFit) []int32 {
	return slices.DeleteFunc(slices.Clone(facets), func(f int32) bool {
		for i := range 3 {
			if math.Abs(fit.radius(k.m.Corner(int(f), i))-fit.DiameterMM/2) > max(fit.RoundnessMM, roundTolMM) {
				return true
			}
		}
		return false
	})
}

func (k *picker) onRound(f int32, o *round) bool {
	for i := range 3 {
		if o.away(k.m.Corner(int(f), i)) > roundTol*o.r+roundTolMM {
			return false
		}
	}
	if k.thin(f) {
		return true
	}
	w := k.m.Centroid(int(f)).Sub(o.c)
	n, radial := k.m.FacetNormal(int(f)), w.Sub(o.axis.Mul(w.Dot(o.axis))).Normalize()
	return math.Abs(n.Dot(o.axis)) < tiltTol && math.Abs(n.Dot(radial)) > leastRadial
}
