package render

import "math"

// strength returns how strongly lines are laid over a picture: fully where they
// are sparse, weaker where they would cover much of the part, as on a lattice of
// rods a few pixels wide. It is told how many samples show the part, and how many
// of them lie under lines.
func strength(part, lines int) float64 {
	const sparse, weakest = 0.15, 0.3
	if part == 0 {
		return 1
	}
	return math.Max(weakest, 1-1.5*math.Max(0, float64(lines)/float64(part)-sparse))
}

// sortCreases lists for every band the feature edges near it.
func (f *Frame) sortCreases(m *Model, p []projected, bands []band) [][]int32 {
	lists := make([][]int32, len(bands))
	if f.opt.CreasePx <= 0 {
		return lists
	}
	reach := int32(math.Ceil(f.opt.CreasePx/2*float64(f.n)+1)) * one
	per := int32(bandPixels * f.n * one)
	for i, e := range m.Edges {
		lo, hi := min(p[e[0]].y, p[e[1]].y)-reach, max(p[e[0]].y, p[e[1]].y)+reach
		for b := max(lo/per, 0); b <= min(hi/per, int32(len(lists)-1)); b++ {
			lists[b] = append(lists[b], int32(i))
		}
	}
	return lists
}

// crease walks along an edge in steps of a sample and marks a disc at every
// place that is not hidden.
func (s *strip) crease(a, b projected) {
	r := s.f.opt.CreasePx / 2 * float64(s.f.n)
	x0, y0, z0 := float64(a.x)/one, float64(a.y)/one, a.z
	x1, y1, z1 := float64(b.x)/one, float64(b.y)/one, b.z
	t0, t1 := 0.0, 1.0
	clip := func(a, b, lo, hi float64) {
		if a == b {
			if a < lo || a > hi {
				t1 = -1
			}
			return
		}
		u, v := (lo-a)/(b-a), (hi-a)/(b-a)
		t0, t1 = math.Max(t0, math.Min(u, v)), math.Min(t1, math.Max(u, v))
	}
	clip(x0, x1, -r-1, float64(s.f.w*s.f.n)+r+1)
	clip(y0, y1, float64(s.own[0])-r-1, float64(s.own[1])+r+1)
	if t1 < t0 {
		return
	}
	long := math.Hypot(x1-x0, y1-y0)
	// Steps are counted from the edge's own start, so that all bands see the same places.
	first, last := math.Floor(t0*long), math.Ceil(t1*long)
	for step := first; step <= last; step++ {
		t := 0.0
		if long > 0 {
			t = math.Min(step/long, 1)
		}
		x, y, z := x0+(x1-x0)*t, y0+(y1-y0)*t, z0+(z1-z0)*t
		if s.shows(x, y, z) {
			s.disc(x, y, r)
		}
	}
}

// shows tells whether a point at a sample position is in front of, or on, what
// the samples around it show. The farthest of them counts: on a feature edge
// at least one sample lies on the surface beside it.
func (s *strip) shows(x, y, z float64) bool {
	w := s.f.w * s.f.n
	ix, iy := int(math.Floor(x)), int(math.Floor(y))
	bias := 1.5 / (s.f.View.PxPerMM * float64(s.f.n)) // a sample and a half, for slopes
	for j := iy - 1; j <= iy+1; j++ {
		for i := ix - 1; i <= ix+1; i++ {
			if i < 0 || j < s.lo || i >= w || j >= s.hi {
				continue
			}
			if d := float64(s.depth[s.row(j)+i]); z <= d+bias {
				return true
			}
		}
	}
	return false
}

// disc marks the samples of the band whose middles lie within r of a place.
func (s *strip) disc(x, y, r float64) {
	w := s.f.w * s.f.n
	for j := max(s.own[0], int(math.Ceil(y-r-0.5))); j <= min(s.own[1]-1, int(math.Floor(y+r-0.5))); j++ {
		dy := float64(j) + 0.5 - y
		half := math.Sqrt(math.Max(0, r*r-dy*dy))
		row := s.row(j)
		for i := max(0, int(math.Ceil(x-half-0.5))); i <= min(w-1, int(math.Floor(x+half-0.5))); i++ {
			s.ink[row+i] = 1
		}
	}
}

// outline marks the near side of every jump in depth, widened to the line's width.
func (s *strip) outline() {
	r := s.f.opt.OutlinePx * float64(s.f.n) / 2
	reach := int(r)
	for y := max(s.lo, s.own[0]-reach); y < min(s.hi, s.own[1]+reach); y++ {
		for tile, part := range s.part {
			if !part {
				continue
			}
			lo, hi := s.f.columns(tile)
			for x := lo * s.f.n; x < hi*s.f.n; x++ {
				if s.facet[s.row(y)+x] >= 0 && s.jumps(x, y) {
					s.disc(float64(x)+0.5, float64(y)+0.5, r)
				}
			}
		}
	}
}

// jumps tells whether a sample is nearer than a neighbour by more than the
// slopes on both sides explain.
func (s *strip) jumps(x, y int) bool {
	w, h := s.f.w*s.f.n, s.f.h*s.f.n
	i := s.row(y) + x
	if s.facet[i] < 0 {
		return false
	}
	least := 2 / s.f.View.PxPerMM // two pixels deep
	deep := func(in bool, d int) bool { return in && float64(s.depth[d]-s.depth[i]) > least }
	if !deep(x+1 < w, i+1) && !deep(x > 0, i-1) && !deep(y+1 < h, i+w) && !deep(y > 0, i-w) {
		return false // nearly all
	}
	step := func(in bool, d, before, after int, inBefore, inAfter bool) bool {
		if !in {
			return false
		}
		gap := float64(s.depth[d] - s.depth[i])
		if !(gap > least) {
			return false
		}
		slope := 0.0
		if inBefore && s.facet[before] >= 0 {
			slope = math.Abs(float64(s.depth[i] - s.depth[before]))
		}
		if inAfter && s.facet[after] >= 0 && s.facet[d] >= 0 {
			slope = math.Max(slope, math.Abs(float64(s.depth[after]-s.depth[d])))
		}
		return gap > least+2*slope
	}
	return step(x+1 < w, i+1, i-1, i+2, x > 0, x+2 < w) ||
		step(x > 0, i-1, i+1, i-2, x+1 < w, x > 1) ||
		step(y+1 < h, i+w, i-w, i+2*w, y > 0, y+2 < h) ||
		step(y > 0, i-w, i+w, i-2*w, y+1 < h, y > 1)
}
