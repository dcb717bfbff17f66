package verify

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// ErrInput is wrapped by the errors for meshes and fields that do not fit each other.
var ErrInput = errors.New("nothing to compare")

// Verify compares the grown mesh with the nominal one and the allowance called
// for on it, in mm at every corner of the nominal facets. Both meshes must be
// closed. The proof is the same for any number of workers.
func Verify(ctx context.Context, nominal, grown *mesh.Mesh, wanted mesh.CornerField, opt Options) (*Proof, error) {
	w, err := Start(ctx, nominal, grown, wanted, opt)
	if err != nil {
		return nil, err
	}
	return w.Proof(), nil
}

func check(nominal, grown *mesh.Mesh, wanted mesh.CornerField, opt Options) error {
	switch {
	case len(nominal.Facets) == 0:
		return fmt.Errorf("%w: the nominal mesh has no facets", ErrInput)
	case len(grown.Facets) == 0:
		return fmt.Errorf("%w: the grown mesh has no facets", ErrInput)
	case len(wanted) != len(nominal.Facets):
		return fmt.Errorf("%w: allowances for %d facets, the nominal mesh has %d", ErrInput, len(wanted), len(nominal.Facets))
	case opt.Skins != nil && len(opt.Skins) != len(nominal.Facets):
		return fmt.Errorf("%w: skins for %d facets, the nominal mesh has %d", ErrInput, len(opt.Skins), len(nominal.Facets))
	case opt.Dry != nil && len(opt.Dry) != len(grown.Facets):
		return fmt.Errorf("%w: dry marks for %d facets, the grown mesh has %d", ErrInput, len(opt.Dry), len(grown.Facets))
	}
	wrong := func(a float64) bool { return !(a >= 0) || math.IsInf(a, 0) }
	for _, f := range mesh.Which(len(wanted), opt.Workers, func(f int) bool { return slices.ContainsFunc(wanted[f][:], wrong) }) {
		a := wanted[f][slices.IndexFunc(wanted[f][:], wrong)]
		return fmt.Errorf("%w: facet %d calls for an allowance of %v mm, it must be zero or more", ErrInput, f, a)
	}
	return nil
}

// run holds what the samples say until it is summed up.
type run struct {
	*gauge
	opt  Options
	plan *plan  // of the nominal mesh
	only []bool // facets to measure; nil for all

	dev, vertexDev []float64 // of the samples on facets, and of the vertices
	out, vertexOut []bool    // which of them lie outside

	ridges, uneven creases // of the nominal mesh, once something was asked from outside
	besideStep     []bool  // facets of the nominal mesh at the ends of uneven edges
	most           float64 // greatest allowance
	numbers        []int32 // of the grown facets, see Options
	fromOutside    *outside
}

// face takes the grown surface to measure against; tree, dry and numbers may be nil.
func (r *run) face(grown *mesh.Mesh, tree *bvh.Tree, dry []bool, numbers []int32) {
	if tree == nil {
		tree = bvh.New(grown, r.workers)
	}
	r.grown, r.tree, r.signs, r.numbers = grown, tree, tree.Signs(nil), numbers
	r.dry, r.wet, r.masks = dry, part(grown, dry, false, r.workers), part(grown, dry, true, r.workers)
}

// facets measures the samples on the facets, in chunks of samples so that few large facets keep all workers busy.
func (r *run) facets(ctx context.Context) error {
	start := r.plan.start
	total := int(start[len(start)-1])
	if r.dev == nil {
		r.dev, r.out = make([]float64, total), make([]bool, total)
	}
	return bvh.InChunks(ctx, total, r.opt.Workers, func(lo, hi int) error {
		f := sort.Search(len(start)-1, func(f int) bool { return int(start[f+1]) > lo })
		for at := lo; at < hi; f++ {
			end := min(int(start[f+1]), hi)
			if r.only == nil || r.only[f] {
				r.facetSamples(f, at, end)
			}
			at = end
		}
		return nil
	})
}

// above guesses the grown facet over facet f: the one of its number.
func (r *run) above(f int) int {
	if r.numbers == nil {
		return f
	}
	at, _ := slices.BinarySearch(r.numbers, int32(f))
	return at
}

// below guesses the nominal facet under facet f of the grown surface.
func (r *run) below(f int) int { return numberOf(r.numbers, f, len(r.grown.Facets)) }

// facetSamples measures the samples from number lo to hi of all, which are on facet f.
func (r *run) facetSamples(f, lo, hi int) {
	m := r.nominal
	a, b, c := m.Triangle(f)
	normal := r.directed(f)
	cos, hint := slopeCos(m, r.wanted, f), r.above(f)
	for i := lo; i < hi; i++ {
		p, _ := r.plan.at(f, i-int(r.plan.start[f]))
		got := r.facet(p.of(a, b, c), normal, r.wanted.At(f, p[0], p[1], p[2]), cos, hint)
		hint = got.hint
		r.dev[i], r.out[i] = got.deviation(), got.outside
	}
}

// vertices measures the vertices.
func (r *run) vertices(ctx context.Context) error {
	n := len(r.nominal.Vertices)
	if r.vertexDev == nil {
		r.vertexDev, r.vertexOut = make([]float64, n), make([]bool, n)
	}
	return bvh.InChunks(ctx, n, r.opt.Workers, func(lo, hi int) error {
		for v := lo; v < hi; v++ {
			around := r.near.Of(int32(v))
			if len(around) == 0 || r.only != nil && !r.anyOf(around) {
				continue
			}
			got := r.corner(int32(v), around, r.above(int(around[0]/3)))
			r.vertexDev[v], r.vertexOut[v] = got.deviation(), got.outside
		}
		return nil
	})
}

// anyOf tells whether one of the corners is of a facet to measure.
func (r *run) anyOf(corners []int32) bool {
	for _, c := range corners {
		if r.only[c/3] {
			return true
		}
	}
	return false
}
