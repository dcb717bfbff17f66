package clean

import (
	"cmp"
	"context"
	"errors"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Options says what a sliver is and how far the surface may move.
type Options struct {
	// ChordMM is how far the surface may move anywhere, mm; 0 means 0.001.
	ChordMM float64

	// SliverMM is the height, mm, below which a facet is a sliver; 0 means 20
	// times ChordMM. A facet at a short edge is at most as high as that edge.
	SliverMM float64

	// Shape is the height of a facet over its longest edge below which it is a
	// sliver whatever its size; 0 means 0.02, which is an angle of about 1 degree.
	Shape float64
}

// Defaults of Options.
const (
	defaultChordMM   = 0.001
	sliverPerChord   = 20
	defaultShape     = 0.02
	maxRounds        = 12
	facetsPerContext = 4096 // facets looked at between two looks at the context
)

// Report tells what was done.
type Report struct {
	Collapsed, Flipped int       // edges
	At                 r3.Vector // mm, place of the first change in facet order
	MovedMM            float64   // bound of how far the surface moved anywhere
	Before, After      int       // slivers
}

// ErrNotClosed says that the surface has an edge without two facets.
var ErrNotClosed = errors.New("only a closed surface can be cleaned of slivers")

// Slivers returns the mesh without the slivers that can go within the
// tolerance; m is not changed. The mesh must be closed and manifold, as
// mesh.Build returns it.
func Slivers(ctx context.Context, m *mesh.Mesh, opt Options) (*mesh.Mesh, Report, error) {
	if opt.ChordMM <= 0 {
		opt.ChordMM = defaultChordMM
	}
	if opt.SliverMM <= 0 {
		opt.SliverMM = sliverPerChord * opt.ChordMM
	}
	if opt.Shape <= 0 {
		opt.Shape = defaultShape
	}
	topo := m.Topology()
	if !topo.Closed() {
		return nil, Report{}, ErrNotClosed
	}
	s := newSurface(m, topo)
	var rep Report
	firstFacet := int32(-1)
	for round := range maxRounds {
		todo := s.slivers(opt)
		if round == 0 {
			rep.Before = len(todo)
		}
		rep.After = len(todo)
		changed := false
		for i, f := range todo {
			if i%facetsPerContext == 0 && ctx.Err() != nil {
				return nil, Report{}, ctx.Err()
			}
			if s.gone[f] || !s.isSliver(f, opt) {
				continue
			}
			at := s.Centroid(int(f))
			switch s.mend(f, opt) {
			case collapsed:
				rep.Collapsed++
			case flipped:
				rep.Flipped++
			default:
				continue
			}
			changed = true
			if firstFacet < 0 || f < firstFacet {
				firstFacet, rep.At = f, at
			}
		}
		if !changed {
			break
		}
	}
	rep.After = len(s.slivers(opt))
	for f, d := range s.moved {
		if !s.gone[f] {
			rep.MovedMM = max(rep.MovedMM, d)
		}
	}
	if rep.Collapsed+rep.Flipped == 0 {
		return m, rep, nil
	}
	return s.result(m), rep, nil
}

// slivers returns the slivers, the lowest first, ties by number.
func (s *surface) slivers(opt Options) []int32 {
	type item struct {
		height float64
		f      int32
	}
	var items []item
	for f := range int32(len(s.Facets)) {
		if !s.gone[f] && s.isSliver(f, opt) {
			items = append(items, item{s.height(f), f})
		}
	}
	slices.SortFunc(items, func(a, b item) int {
		if c := cmp.Compare(a.height, b.height); c != 0 {
			return c
		}
		return int(a.f) - int(b.f)
	})
	out := make([]int32, len(items))
	for i, x := range items {
		out[i] = x.f
	}
	return out
}

func (s *surface) isSliver(f int32, opt Options) bool {
	h := s.height(f)
	return h < opt.SliverMM || h < opt.Shape*s.longest(f)
}

// change is what was done about a sliver.
type change int

const (
	nothing change = iota
	collapsed
	flipped
)

// mend collapses the shortest edge of a sliver, to the place that moves the
// surface least, or else flips its longest edge, as far as the tolerance allows.
func (s *surface) mend(f int32, opt Options) change {
	short, long := s.shortAndLong(f)
	if s.collapsible(short) {
		best, way := opt.ChordMM, int32(-1)
		for _, h := range [2]int32{short, s.twin[short]} {
			if d, ok := s.collapseMove(h, opt.ChordMM); ok && d < best {
				best, way = d, h
			}
		}
		var at r3.Vector
		between := false
		for _, p := range s.places(short, opt.ChordMM) {
			if d, ok := s.mergeMove(short, p, opt.ChordMM); ok && d < best {
				best, way, at, between = d, short, p, true
			}
		}
		switch {
		case between:
			s.collapseTo(way, at, best)
			return collapsed
		case way >= 0:
			s.collapse(way, best)
			return collapsed
		}
	}
	if d, ok := s.flipMove(long, opt.ChordMM); ok && d < opt.ChordMM {
		s.flip(long, d)
		return flipped
	}
	return nothing
}
