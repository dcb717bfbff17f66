package region

import (
	"cmp"
	"context"
	"math"
	"runtime"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// SizeKind tells what a size is of.
type SizeKind string

// Kinds of sizes.
const (
	BoreSize  SizeKind = "bore"  // diameter
	WidthSize SizeKind = "width" // of metal, over two parallel planes that face away from each other
	GapSize   SizeKind = "gap"   // of the room between two parallel planes that face each other
)

// Size is a measure that a part's drawing may carry: the diameter of a bore, or
// the distance of two parallel planes that lie over each other.
type Size struct {
	Kind     SizeKind
	MM       float64
	At, Axis r3.Vector // middle, and axis of the bore or normal of the first plane
	A, B     []int32   // facets of the planes, ascending; A those of the bore
	AreaMM2  float64   // of both
}

const (
	// planeSeeds bounds the facets from which planes are grown, largest first,
	// and boreSeeds those from which bores are: of the concave ones half the
	// largest, as long strips of bores are, half spread over all.
	planeSeeds = 200
	boreSeeds  = 200

	// sizeShare is the least share of the part's area that a plane must have to
	// carry a size, and mostSizes how many sizes are listed, by area.
	sizeShare = 0.004
	mostSizes = 60

	// bendShare is the area of smooth neighbours, as a share of its own, from
	// which a plane is taken for a strip of a round.
	bendShare = 0.4

	sizeCover = 300  // degrees of the round that a bore must have
	parallel  = 6e-6 // 1 less the cosine of 0.2 degrees
	lieOver   = 0.3  // share of the smaller plane's box that must lie over the other's
)

// Sizes finds the bores and the pairs of parallel planes of a part, those of
// more area first, with up to the given number of goroutines; 0 takes GOMAXPROCS.
// A bore here is what a gauge measures, facets whose corners lie on one cylinder;
// package screen asks another question of holes, how far the bath gets into them,
// and finds such as are not round, bend, widen or carry threads.
func Sizes(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, workers int) ([]Size, error) {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	k := newPicker(m, topo)
	area := areas(m, workers)
	out, err := k.boreSizes(ctx, area, workers)
	if err != nil {
		return nil, err
	}
	out = append(out, k.planeSizes(area)...)
	slices.SortStableFunc(out, func(a, b Size) int { return cmp.Compare(b.AreaMM2, a.AreaMM2) })
	return out[:min(len(out), mostSizes)], nil
}

// area sums facets.
func (k *picker) area(facets []int32) (a float64) {
	for _, f := range facets {
		a += k.m.FacetArea(int(f))
	}
	return a
}

// boreBatch is the number of seeds that are grown side by side.
const boreBatch = 16

// grownBore is what came of a seed.
type grownBore struct {
	facets []int32
	fit    BoreFit
}

// boreSizes grows bores from concave facets. Seeds that an earlier one of the
// same batch takes are grown in vain; so the result does not depend on the workers.
// Facets of rounds that turned out to be none are no seeds either.
func (k *picker) boreSizes(ctx context.Context, area []float64, workers int) ([]Size, error) {
	taken, vain := make([]bool, len(k.m.Facets)), make([]bool, len(k.m.Facets))
	pickers := make([]*picker, workers)
	for i := range pickers {
		pickers[i] = newPicker(k.m, k.topo)
		pickers[i].cover = sizeCover
	}
	var out []Size
	for seeds := fewer(k.concave(workers), area); len(seeds) > 0; {
		batch := seeds[:min(boreBatch, len(seeds))]
		seeds = seeds[len(batch):]
		grown := make([]grownBore, len(batch))
		err := mesh.Spread(ctx, len(batch), 1, workers, func(worker, i, _ int) error {
			if f := batch[i]; !taken[f] && !vain[f] {
				if facets, fit, err := pickers[worker].roundFrom(f); err == nil {
					grown[i] = grownBore{facets, fit}
				}
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
		for i, f := range batch {
			b := &grown[i]
			if b.fit.Shaft || b.fit.CoverDegrees < sizeCover {
				for _, f := range b.facets {
					vain[f] = true
				}
				continue
			}
			if b.facets == nil || taken[f] || slices.ContainsFunc(b.facets, func(f int32) bool { return taken[f] }) {
				continue
			}
			for _, f := range b.facets {
				taken[f] = true
			}
			out = append(out, Size{Kind: BoreSize, MM: b.fit.DiameterMM, At: b.fit.Middle, Axis: b.fit.Axis, A: b.facets, AreaMM2: k.area(b.facets)})
		}
	}
	return out, nil
}

// fewer returns the seeds that are tried.
func fewer(seeds []int32, area []float64) []int32 {
	if len(seeds) <= boreSeeds {
		return seeds
	}
	own := make([]float64, len(seeds))
	for i, f := range seeds {
		own[i] = area[f]
	}
	var out []int32
	for i := range largest(own) {
		if out = append(out, seeds[i]); len(out) == boreSeeds/2 {
			break
		}
	}
	for i := 0; i < len(seeds); i += 2 * len(seeds) / boreSeeds {
		out = append(out, seeds[i])
	}
	return out
}

// concave returns the facets that bend inwards to a neighbour as a bore does.
func (k *picker) concave(workers int) []int32 {
	n := len(k.m.Facets)
	found := make([][]int32, (n+mesh.Chunk-1)/mesh.Chunk)
	mesh.InChunks(n, workers, func(lo, hi int) {
		for f := lo; f < hi; f++ {
			if k.bendsIn(int32(f)) {
				found[lo/mesh.Chunk] = append(found[lo/mesh.Chunk], int32(f))
			}
		}
	})
	return slices.Concat(found...)
}

// bendsIn tells whether facet f bends inwards to a neighbour, neither by
// rounding nor at an edge.
func (k *picker) bendsIn(f int32) bool {
	n := k.m.AreaNormal(int(f))
	for h := 3 * f; h < 3*f+3; h++ {
		t := k.topo.Twin[h]
		if t == mesh.None {
			continue
		}
		// The neighbour's far corner stands above this facet.
		far := k.m.Vertices[k.m.Origin(mesh.Prev(t))]
		if n.Dot(far.Sub(k.m.Corner(int(f), int(h%3)))) <= 0 {
			continue
		}
		if c := n.Normalize().Dot(k.m.FacetNormal(int(t / 3))); c > bendOfSeed && c < 1-1e-6 && !k.thin(f) && !k.thin(t/3) {
			return true
		}
	}
	return false
}

// sheet is a plane face.
type sheet struct {
	facets []int32
	fit    PlaneFit
	area   float64
}

// sheets grows planes from the largest facets.
func (k *picker) sheets(area []float64) []sheet {
	var all float64
	for _, a := range area {
		all += a
	}
	taken := make([]bool, len(area))
	var out []sheet
	tried := 0
	for f := range largest(area) {
		if taken[f] || k.thin(f) {
			continue
		}
		if tried++; tried > planeSeeds {
			break
		}
		facets, fit, err := k.planeFrom(f)
		if err != nil || slices.ContainsFunc(facets, func(g int32) bool { return taken[g] }) {
			continue
		}
		for _, g := range facets {
			taken[g] = true
		}
		if a := k.area(facets); a >= sizeShare*all && k.bends(facets) < bendShare*a {
			out = append(out, sheet{facets, fit, a})
		}
	}
	return out
}

// bends returns the area of the facets beyond the smooth edges of a
// plane: a strip of a round goes on into strips like itself, a face
// with fillets into narrow ones.
func (k *picker) bends(facets []int32) (area float64) {
	k.flown++
	for _, f := range facets {
		k.seen[f] = k.flown
	}
	for _, f := range facets {
		if k.thin(f) {
			continue
		}
		n := k.m.FacetNormal(int(f))
		for h := 3 * f; h < 3*f+3; h++ {
			t := k.topo.Twin[h]
			if t == mesh.None || k.seen[t/3] == k.flown || k.thin(t/3) || n.Dot(k.m.FacetNormal(int(t/3))) < bendOfSeed {
				continue
			}
			k.seen[t/3] = k.flown
			area += k.m.FacetArea(int(t / 3))
		}
	}
	return area
}

// planeSizes pairs each plane with the nearest ones that look the other way.
func (k *picker) planeSizes(area []float64) []Size {
	sheets := k.sheets(area)
	var out []Size
	for i := range sheets {
		nearest := map[SizeKind]int{} // index in sheets; looked up only
		for j := range sheets {
			d, kind, ok := k.apart(&sheets[i], &sheets[j])
			if !ok || i == j {
				continue
			}
			if n, has := nearest[kind]; !has || d < k.distance(&sheets[i], &sheets[n]) {
				nearest[kind] = j
			}
		}
		for _, kind := range [...]SizeKind{WidthSize, GapSize} {
			j, has := nearest[kind]
			if !has {
				continue
			}
			s := Size{
				Kind: kind, MM: k.distance(&sheets[i], &sheets[j]), Axis: sheets[i].fit.Normal, A: sheets[i].facets, B: sheets[j].facets,
				At: sheets[i].fit.Point.Add(sheets[j].fit.Point).Mul(0.5), AreaMM2: sheets[i].area + sheets[j].area,
			}
			if !slices.ContainsFunc(out, func(o Size) bool { return o.Kind == kind && o.A[0] == s.B[0] && o.B[0] == s.A[0] }) {
				out = append(out, s)
			}
		}
	}
	return out
}

// distance returns how far apart two planes are.
func (k *picker) distance(a, b *sheet) float64 {
	return math.Abs(b.fit.Point.Sub(a.fit.Point).Dot(a.fit.Normal))
}

// apart tells whether two planes are parallel, look opposite ways and lie over each other.
func (k *picker) apart(a, b *sheet) (d float64, kind SizeKind, ok bool) {
	if a.fit.Normal.Dot(b.fit.Normal) > parallel-1 {
		return 0, "", false
	}
	d = b.fit.Point.Sub(a.fit.Point).Dot(a.fit.Normal)
	kind = GapSize
	if d < 0 {
		d, kind = -d, WidthSize
	}
	u, v := Across(a.fit.Normal)
	alo, ahi := k.box(a.facets, u, v)
	blo, bhi := k.box(b.facets, u, v)
	over, small := 1.0, math.Inf(1)
	sizeA, sizeB := 1.0, 1.0
	for i := range 2 {
		over *= max(0, min(ahi[i], bhi[i])-max(alo[i], blo[i]))
		sizeA *= ahi[i] - alo[i]
		sizeB *= bhi[i] - blo[i]
	}
	small = min(small, sizeA, sizeB)
	return d, kind, d > 0 && over >= lieOver*small
}

// box returns the extent of facets along two directions.
func (k *picker) box(facets []int32, u, v r3.Vector) (lo, hi [2]float64) {
	lo, hi = [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, f := range facets {
		for i := range 3 {
			p := k.m.Corner(int(f), i)
			for j, x := range [...]float64{p.Dot(u), p.Dot(v)} {
				lo[j], hi[j] = min(lo[j], x), max(hi[j], x)
			}
		}
	}
	return lo, hi
}

// MeasureSize measures a size on another surface of the part, from the facets
// there that are those of the size or pieces of them; ok is false when too few are left.
func MeasureSize(m *mesh.Mesh, s *Size, a, b []int32) (mm float64, ok bool) {
	if s.Kind == BoreSize {
		fit, err := FitBore(m, a)
		return fit.DiameterMM, err == nil
	}
	if len(a) == 0 || len(b) == 0 {
		return 0, false
	}
	return math.Abs(centre(m, b).Sub(centre(m, a)).Dot(s.Axis)), true
}

// centre returns the centre of area of facets.
func centre(m *mesh.Mesh, facets []int32) r3.Vector {
	var sum r3.Vector
	var area float64
	for _, f := range facets {
		a, b, c := m.Triangle(int(f))
		w := m.FacetArea(int(f))
		sum = sum.Add(a.Add(b).Add(c).Mul(w / 3))
		area += w
	}
	return sum.Mul(1 / max(area, math.SmallestNonzeroFloat64))
}
