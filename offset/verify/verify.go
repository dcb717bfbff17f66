package verify

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sort"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
)

// ErrInput is wrapped by the errors for meshes and fields that do not fit each other.
var ErrInput = errors.New("nothing to compare")

// Verify compares the grown mesh with the nominal one and the allowance called
// for on it, in mm at every corner of the nominal facets. Both meshes must be
// closed. The proof is the same for any number of workers.
func Verify(ctx context.Context, nominal, grown *mesh.Mesh, wanted mesh.CornerField, opt Options) (*Proof, error) {
	opt = opt.withDefaults()
	if err := check(nominal, grown, wanted, opt); err != nil {
		return nil, err
	}
	tree := bvh.New(grown, opt.Workers)
	g := &gauge{
		nominal: nominal, grown: grown, wanted: wanted,
		tree: tree, signs: tree.Signs(nil), workers: opt.Workers,
	}
	r := &run{gauge: g, opt: opt, plan: planFor(nominal, opt.Samples)}
	if err := r.facets(ctx); err != nil {
		return nil, err
	}
	if err := r.vertices(ctx); err != nil {
		return nil, err
	}
	if !opt.OneWay {
		if err := r.fromGrown(ctx); err != nil {
			return nil, err
		}
	}
	return r.proof(), nil
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
	}
	for f, w := range wanted {
		for _, a := range w {
			if !(a >= 0) || math.IsInf(a, 0) {
				return fmt.Errorf("%w: facet %d calls for an allowance of %v mm, it must be zero or more", ErrInput, f, a)
			}
		}
	}
	return nil
}

// run holds what the samples say until it is summed up.
type run struct {
	*gauge
	opt  Options
	plan *plan           // of the nominal mesh
	in   *mesh.Incidence // of the nominal mesh
	only []bool          // facets to measure; nil for all

	dev       []float64 // of the samples on facets
	outside   int       // samples outside
	vertexDev []float64

	fromOutside []grownWorst // by chunk of the grown facets
}

// chunk is the length of the ranges of bvh.InChunks.
const chunk = bvh.Chunk

// facets measures the samples on the facets, in chunks of samples so that few large facets keep all workers busy.
func (r *run) facets(ctx context.Context) error {
	start := r.plan.start
	total := int(start[len(start)-1])
	r.dev = make([]float64, total)
	outside := make([]int, (total+chunk-1)/chunk)
	err := bvh.InChunks(ctx, total, r.opt.Workers, func(lo, hi int) error {
		f := sort.Search(len(start)-1, func(f int) bool { return int(start[f+1]) > lo })
		hint := bvh.NoHint
		for at := lo; at < hi; f++ {
			end := min(int(start[f+1]), hi)
			if r.only == nil || r.only[f] {
				n := 0
				hint, n = r.facetSamples(f, at, end, hint)
				outside[lo/chunk] += n
			}
			at = end
		}
		return nil
	})
	for _, n := range outside {
		r.outside += n
	}
	return err
}

// facetSamples measures the samples from number lo to hi of all, which are on
// facet f, and returns the next hint and how many lie outside.
func (r *run) facetSamples(f, lo, hi, hint int) (next, outside int) {
	m := r.nominal
	a, b, c := m.Triangle(f)
	normal := r.directed(f)
	cos := slopeCos(m, r.wanted, f)
	for i := lo; i < hi; i++ {
		p, _ := r.plan.at(f, i-int(r.plan.start[f]))
		got := r.facet(p.of(a, b, c), normal, r.wanted.At(f, p[0], p[1], p[2]), cos, hint)
		hint = got.hint
		r.dev[i] = got.deviation()
		if got.outside {
			outside++
		}
	}
	return hint, outside
}

// vertices measures the vertices.
func (r *run) vertices(ctx context.Context) error {
	m := r.nominal
	r.in = m.Incidence()
	r.vertexDev = make([]float64, len(m.Vertices))
	outside := make([]int, (len(m.Vertices)+chunk-1)/chunk)
	err := bvh.InChunks(ctx, len(m.Vertices), r.opt.Workers, func(lo, hi int) error {
		hint := bvh.NoHint
		for v := lo; v < hi; v++ {
			around := r.in.Of(int32(v))
			if len(around) == 0 || r.only != nil && !r.anyOf(around) {
				continue
			}
			got := r.corner(int32(v), around, hint)
			hint = got.hint
			r.vertexDev[v] = got.deviation()
			if got.outside {
				outside[lo/chunk]++
			}
		}
		return nil
	})
	for _, n := range outside {
		r.outside += n
	}
	return err
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

// fromGrown measures the vertices of the grown mesh, and more samples on its
// large facets, against the nominal surface.
func (r *run) fromGrown(ctx context.Context) error {
	m := r.grown
	r.nominalTree()
	s := &grownSamples{run: r, signs: r.around.Signs(r.near), plan: planFor(m, r.opt.Samples)}
	s.best = make([]grownWorst, (len(m.Facets)+chunk-1)/chunk)
	vertexOf := firstUse(m)
	err := bvh.InChunks(ctx, len(m.Facets), r.opt.Workers, func(lo, hi int) error {
		w := &s.best[lo/chunk]
		w.short.Facet, w.reach.Facet = -1, -1
		for f := lo; f < hi; f++ {
			n, _ := s.plan.of(f)
			if n > 1024 && ctx.Err() != nil {
				return ctx.Err()
			}
			for k, v := range m.Facets[f] {
				if vertexOf[v] == int32(3*f+k) {
					s.measure(w, f, m.Vertices[v])
				}
			}
			for i := 0; n > 1 && i < n; i++ {
				p, _ := s.plan.at(f, i)
				s.measure(w, f, p.of(m.Triangle(f)))
			}
		}
		return nil
	})
	r.fromOutside = s.best
	return err
}

// firstUse returns the first corner that uses each vertex.
func firstUse(m *mesh.Mesh) []int32 {
	first := make([]int32, len(m.Vertices))
	for f := len(m.Facets) - 1; f >= 0; f-- {
		for k := 2; k >= 0; k-- {
			first[m.Facets[f][k]] = int32(3*f + k)
		}
	}
	return first
}

// grownSamples are the samples on the grown surface; grownWorst is what those of a chunk of facets say.
type grownSamples struct {
	*run
	signs *bvh.Signs
	plan  *plan
	best  []grownWorst
}

type grownWorst struct {
	short, reach Worst
	samples      int
	hint         int
}

func (s *grownSamples) measure(w *grownWorst, f int, y r3.Vector) {
	h := s.around.Closest(y, w.hint)
	w.hint = h.Facet
	w.samples++
	at := func() r3.Vector { return y }
	d := s.signs.Sure(y, h, false)
	if lack := s.lack(y, h, d); lack > Resolution {
		w.short.take(lack, f, at)
	}
	if d > w.reach.Value { // else it cannot exceed
		w.reach.take(d-s.greatest(h), f, at)
	}
}
