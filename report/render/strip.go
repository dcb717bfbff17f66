package render

import (
	"context"
	"math"
	"slices"

	"skinstock/mesh"
)

// bandPixels is the height of a band in pixels, and the width of its tiles.
const bandPixels = 16

// band is a run of pixel rows, which one worker draws as a row of tiles.
type band struct {
	lo, hi int    // pixel rows
	part   []bool // by tile: may show the part

	// What the pixels show, tile by tile and row by row in it, but for empty tiles.
	pixels []pixel
	pieces []piece // of all pixels one after the other

	covered, lined int // samples that show the part, and those of them under lines
}

// pixel is how many pieces a pixel shows, and how many of its samples lie under lines.
type pixel struct{ pieces, inked uint8 }

// piece is one facet's share of a pixel.
type piece struct {
	id   int32
	n    uint16
	x, y uint16 // sums of sample positions in the pixel
}

// columns are the pixels along x that a tile covers.
func (f *Frame) columns(tile int) (lo, hi int) {
	return tile * bandPixels, min((tile+1)*bandPixels, f.w)
}

// empty tells whether a tile and those beside it show nothing of the part, nor of
// what lies a line's width above and below: then it holds no line either.
func (b *band) empty(tile int) bool {
	for _, part := range b.part[max(tile-1, 0):min(tile+2, len(b.part))] {
		if part {
			return false
		}
	}
	return true
}

// strip holds the samples of a band and of the rows above and below it on which
// its lines depend. A worker uses one for band after band.
type strip struct {
	f      *Frame
	lo, hi int       // sample rows
	own    [2]int    // those of the band
	depth  []float32 // samples, row by row; mm, +Inf where there is nothing
	facet  []int32   // samples; -1 where there is nothing
	ink    []uint8   // samples: 1 where a line covers them
	part   []bool    // by tile: may show the part

	// What the band's pixels show, as a band holds it.
	pixels []pixel
	pieces []piece
}

// reach is how many rows of samples beyond a band its lines depend on.
func (f *Frame) reach() int {
	return int(math.Ceil(max(f.opt.CreasePx, f.opt.OutlinePx)/2*float64(f.n))) + 3
}

func (f *Frame) newStrip() *strip {
	rows := bandPixels*f.n + 2*f.reach()
	s := &strip{f: f, depth: make([]float32, rows*f.w*f.n), facet: make([]int32, rows*f.w*f.n), ink: make([]uint8, rows*f.w*f.n)}
	setAll(s.depth, float32(math.Inf(1)))
	setAll(s.facet, -1)
	return s
}

// row is where a row of samples starts.
func (s *strip) row(y int) int { return (y - s.lo) * s.f.w * s.f.n }

// move makes an empty strip that of a band.
func (s *strip) move(b *band) {
	n, reach := s.f.n, s.f.reach()
	s.own = [2]int{b.lo * n, b.hi * n}
	s.lo, s.hi = max(s.own[0]-reach, 0), min(s.own[1]+reach, s.f.h*n)
	s.part = b.part
}

// wipe empties a strip where it shows something.
func (s *strip) wipe(b *band) {
	for tile := range b.part {
		if b.empty(tile) {
			continue
		}
		lo, hi := s.f.columns(tile)
		lo, hi = lo*s.f.n, hi*s.f.n
		for y := s.lo; y < s.hi; y++ {
			row := s.row(y)
			setAll(s.depth[row+lo:row+hi], float32(math.Inf(1)))
			setAll(s.facet[row+lo:row+hi], -1)
			clear(s.ink[row+lo : row+hi])
		}
	}
}

// sample finds what every pixel shows.
func (f *Frame) sample(ctx context.Context, m *Model, p []projected) ([]band, error) {
	bands := make([]band, (f.h+bandPixels-1)/bandPixels)
	for i := range bands {
		bands[i] = band{lo: i * bandPixels, hi: min((i+1)*bandPixels, f.h), part: make([]bool, (f.w+bandPixels-1)/bandPixels)}
	}
	facets, err := f.sort(ctx, m.Mesh, p, bands)
	if err != nil {
		return nil, err
	}
	creases := f.sortCreases(m, p, bands)
	strips := make([]*strip, len(bands)) // by worker
	err = mesh.Spread(ctx, len(bands), 1, f.opt.Workers, func(worker, i, _ int) error {
		s, b := strips[worker], &bands[i]
		if s == nil {
			s = f.newStrip()
			strips[worker] = s
		}
		s.move(b)
		for _, t := range facets[i] {
			q := m.Mesh.Facets[t]
			s.fill(t, p[q[0]], p[q[1]], p[q[2]])
		}
		for _, e := range creases[i] {
			s.crease(p[m.Edges[e][0]], p[m.Edges[e][1]])
		}
		if f.opt.OutlinePx > 0 {
			s.outline()
		}
		s.gather(b)
		s.wipe(b)
		return nil
	})
	lined := 0
	for i := range bands {
		f.covered += bands[i].covered
		lined += bands[i].lined
	}
	f.inked = strength(f.covered, lined)
	return bands, err
}

// gather sorts the samples of the band's pixels by facet.
func (s *strip) gather(b *band) {
	f := s.f
	s.pixels, s.pieces = s.pixels[:0], s.pieces[:0]
	for tile := range b.part {
		if b.empty(tile) {
			continue
		}
		lo, hi := f.columns(tile)
		for y := b.lo; y < b.hi; y++ {
			for x := lo; x < hi; x++ {
				first := len(s.pieces)
				inked := s.pixel(b, x, y)
				s.pixels = append(s.pixels, pixel{uint8(len(s.pieces) - first), uint8(inked)})
				mid := s.row(y*f.n+f.n/2) + x*f.n + f.n/2
				f.depth[y*f.w+x], f.facet[y*f.w+x] = s.depth[mid], s.facet[mid]
			}
		}
	}
	b.pixels, b.pieces = slices.Clone(s.pixels), slices.Clone(s.pieces)
}

// pixel adds the pieces of a pixel, and returns its samples under lines.
func (s *strip) pixel(b *band, px, py int) (inked int) {
	n := s.f.n
	first := len(s.pieces)
	for j := range n {
		row := s.row(py*n+j) + px*n
		ids, ink := s.facet[row:row+n], s.ink[row:row+n]
		for i := 0; i < n; { // run by run
			id, from, lined := ids[i], i, 0
			for ; i < n && ids[i] == id; i++ {
				lined += int(ink[i])
			}
			count := i - from
			inked += lined
			if id >= 0 {
				b.covered += count
				b.lined += lined
			}
			s.add(first, piece{id, uint16(count), uint16(count * (from + i - 1) / 2), uint16(count * j)})
		}
	}
	return inked
}

// add adds a piece to those of its facet from the given one on.
func (s *strip) add(first int, p piece) {
	for k := first; k < len(s.pieces); k++ {
		if q := &s.pieces[k]; q.id == p.id {
			q.n += p.n
			q.x += p.x
			q.y += p.y
			return
		}
	}
	s.pieces = append(s.pieces, p)
}
