package render

import (
	"bytes"
	"context"
	"math"
)

// drawLines marks the samples that lines cover: feature edges that are not
// hidden, and outlines where the depth jumps.
func (f *Frame) drawLines(ctx context.Context, m *Model, p *projected) error {
	if f.opt.CreasePx <= 0 && f.opt.OutlinePx <= 0 {
		return nil
	}
	f.ink = make([]uint8, len(f.depth))
	if f.opt.CreasePx > 0 {
		if err := f.drawCreases(ctx, m, p); err != nil {
			return err
		}
	}
	if f.opt.OutlinePx > 0 {
		if err := f.drawOutlines(ctx); err != nil {
			return err
		}
	}
	f.inked = f.strength()
	return nil
}

// strength returns how strongly lines are laid over the picture: fully where
// they are sparse, weaker where they would cover much of the part, as on a
// lattice of rods a few pixels wide.
func (f *Frame) strength() float64 {
	const sparse, weakest = 0.15, 0.3
	part, lines := 0, 0
	for i, id := range f.facet {
		if id >= 0 {
			part++
			lines += int(f.ink[i])
		}
	}
	if part == 0 {
		return 1
	}
	return math.Max(weakest, 1-1.5*math.Max(0, float64(lines)/float64(part)-sparse))
}

// drawCreases draws the feature edges. Every band takes the edges near it.
func (f *Frame) drawCreases(ctx context.Context, m *Model, p *projected) error {
	r := f.opt.CreasePx / 2 * float64(f.n)
	reach := int32(math.Ceil(r+1)) * one
	lists := make([][]int32, len(f.bands))
	per := int32(bandPixels * f.n * one)
	for i, e := range m.Edges {
		lo, hi := min(p.y[e[0]], p.y[e[1]])-reach, max(p.y[e[0]], p.y[e[1]])+reach
		for b := max(lo/per, 0); b <= min(hi/per, int32(len(lists)-1)); b++ {
			lists[b] = append(lists[b], int32(i))
		}
	}
	return each(ctx, len(f.bands), f.opt.Workers, func(b int) {
		for _, i := range lists[b] {
			f.crease(p, m.Edges[i], r, f.bands[b])
		}
	})
}

// crease walks along an edge in steps of a sample and marks a disc at every
// place that is not hidden.
func (f *Frame) crease(p *projected, e [2]int32, r float64, rows band) {
	x0, y0, z0 := float64(p.x[e[0]])/one, float64(p.y[e[0]])/one, p.z[e[0]]
	x1, y1, z1 := float64(p.x[e[1]])/one, float64(p.y[e[1]])/one, p.z[e[1]]
	t0, t1 := 0.0, 1.0
	clip := func(a, b, lo, hi float64) {
		if a == b {
			if a < lo || a > hi {
				t1 = -1
			}
			return
		}
		s, t := (lo-a)/(b-a), (hi-a)/(b-a)
		t0, t1 = math.Max(t0, math.Min(s, t)), math.Min(t1, math.Max(s, t))
	}
	clip(x0, x1, -r-1, float64(f.w*f.n)+r+1)
	clip(y0, y1, float64(rows.lo)-r-1, float64(rows.hi)+r+1)
	if t1 < t0 {
		return
	}
	long := math.Hypot(x1-x0, y1-y0)
	// Steps are counted from the edge's own start, so that all bands see the same places.
	first, last := math.Floor(t0*long), math.Ceil(t1*long)
	for s := first; s <= last; s++ {
		t := 0.0
		if long > 0 {
			t = math.Min(s/long, 1)
		}
		x, y, z := x0+(x1-x0)*t, y0+(y1-y0)*t, z0+(z1-z0)*t
		if f.shows(x, y, z) {
			f.disc(x, y, r, rows)
		}
	}
}

// shows tells whether a point at a sample position is in front of, or on, what
// the samples around it show. The farthest of them counts: on a feature edge
// at least one sample lies on the surface beside it.
func (f *Frame) shows(x, y, z float64) bool {
	w, h := f.w*f.n, f.h*f.n
	ix, iy := int(math.Floor(x)), int(math.Floor(y))
	bias := 1.5 / (f.View.PxPerMM * float64(f.n)) // a sample and a half, for slopes
	for j := iy - 1; j <= iy+1; j++ {
		for i := ix - 1; i <= ix+1; i++ {
			if i < 0 || j < 0 || i >= w || j >= h {
				continue
			}
			if d := float64(f.depth[j*w+i]); z <= d+bias {
				return true
			}
		}
	}
	return false
}

// disc marks the samples whose middles lie within r of a place, in the rows given.
func (f *Frame) disc(x, y, r float64, rows band) {
	w := f.w * f.n
	for j := max(rows.lo, int(math.Ceil(y-r-0.5))); j <= min(rows.hi-1, int(math.Floor(y+r-0.5))); j++ {
		dy := float64(j) + 0.5 - y
		half := math.Sqrt(math.Max(0, r*r-dy*dy))
		for i := max(0, int(math.Ceil(x-half-0.5))); i <= min(w-1, int(math.Floor(x+half-0.5))); i++ {
			f.ink[j*w+i] = 1
		}
	}
}

// drawOutlines marks the near side of every jump in depth, widened to the line's width.
func (f *Frame) drawOutlines(ctx context.Context) error {
	w := f.w * f.n
	jump := make([]uint8, len(f.depth))
	err := each(ctx, len(f.bands), f.opt.Workers, func(b int) {
		for tile, part := range f.bands[b].part {
			if !part {
				continue
			}
			lo, hi := f.column(tile)
			for y := f.bands[b].lo; y < f.bands[b].hi; y++ {
				for x := lo; x < hi; x++ {
					if f.jumps(x, y) {
						jump[y*w+x] = 1
					}
				}
			}
		}
	})
	if err != nil {
		return err
	}
	r := f.opt.OutlinePx * float64(f.n) / 2
	h := f.h * f.n
	reach := int(r)
	return each(ctx, len(f.bands), f.opt.Workers, func(b int) {
		own := f.bands[b]
		for y := max(0, own.lo-reach); y < min(h, own.hi+reach); y++ {
			row := jump[y*w : (y+1)*w]
			for x := bytes.IndexByte(row, 1); x >= 0; x = nextJump(row, x) {
				f.disc(float64(x)+0.5, float64(y)+0.5, r, own)
			}
		}
	})
}

// nextJump returns the jump in a row behind another, or -1.
func nextJump(row []uint8, x int) int {
	if d := bytes.IndexByte(row[x+1:], 1); d >= 0 {
		return x + 1 + d
	}
	return -1
}

// jumps tells whether a sample is nearer than a neighbour by more than the
// slopes on both sides explain.
func (f *Frame) jumps(x, y int) bool {
	w, h := f.w*f.n, f.h*f.n
	i := y*w + x
	if f.facet[i] < 0 {
		return false
	}
	least := 2 / f.View.PxPerMM // two pixels deep
	deep := func(in bool, d int) bool { return in && float64(f.depth[d]-f.depth[i]) > least }
	if !deep(x+1 < w, i+1) && !deep(x > 0, i-1) && !deep(y+1 < h, i+w) && !deep(y > 0, i-w) {
		return false // nearly all
	}
	step := func(in bool, d, before, after int, inBefore, inAfter bool) bool {
		if !in {
			return false
		}
		gap := float64(f.depth[d] - f.depth[i])
		if !(gap > least) {
			return false
		}
		slope := 0.0
		if inBefore && f.facet[before] >= 0 {
			slope = math.Abs(float64(f.depth[i] - f.depth[before]))
		}
		if inAfter && f.facet[after] >= 0 && f.facet[d] >= 0 {
			slope = math.Max(slope, math.Abs(float64(f.depth[after]-f.depth[d])))
		}
		return gap > least+2*slope
	}
	return step(x+1 < w, i+1, i-1, i+2, x > 0, x+2 < w) ||
		step(x > 0, i-1, i+1, i-2, x+1 < w, x > 1) ||
		step(y+1 < h, i+w, i-w, i+2*w, y > 0, y+2 < h) ||
		step(y > 0, i-w, i+w, i-2*w, y+1 < h, y > 1)
}
