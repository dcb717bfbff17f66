package render

import (
	"context"
	"image"
	stddraw "image/draw"
	"math"

	"github.com/golang/geo/r3"
)

// Light is a key light in the view's axes (right, up, toward) over ambient
// light. A facet that faces the key has its full colour, one turned away keeps
// the ambient share, so that hues survive.
type Light struct {
	Key     r3.Vector
	Ambient float64 // share of the light that comes from all around, 0 to 1
}

// StudioLight shines over the left shoulder.
var StudioLight = Light{Key: r3.Vector{X: -0.45, Y: 0.6, Z: 0.85}, Ambient: 0.6}

// FlatLight shows every colour as the legend does.
var FlatLight = Light{Key: r3.Vector{Z: 1}, Ambient: 1}

// inside darkens facets that are seen from inside the metal.
const inside = 0.35

// shader turns places into light.
type shader struct {
	f       *Frame
	m       *Model
	p       *projected
	key     r3.Vector
	ambient float64
	code    *encoder
	paints  []Paint
	out     []*Frame // one for each paint
}

// facetLight is one facet's share of a pixel.
type facetLight struct {
	id   int32
	n    int
	x, y int // sums of sample positions
}

// resolve colours all pixels, once with each of the paints.
func (f *Frame) resolve(ctx context.Context, m *Model, p *projected, paints []Paint, out []*Frame) error {
	l := f.opt.Light
	k := l.Key.Normalize()
	v := f.View
	s := &shader{
		f: f, m: m, p: p, ambient: l.Ambient, code: newEncoder(), paints: paints, out: out,
		key: v.Right.Mul(k.X).Add(v.Up.Mul(k.Y)).Add(v.Toward.Mul(k.Z)),
	}
	return each(ctx, len(f.bands), f.opt.Workers, func(b int) {
		px := pixel{sums: make([]RGB, len(paints))}
		for tile := range f.bands[b].part { // tile by tile, since facets that are near are so in memory as well
			s.tile(b, tile, &px)
		}
	})
}

// tile colours the pixels of a tile.
func (s *shader) tile(b, tile int, px *pixel) {
	f := s.f
	lo, hi := f.column(tile)
	lo, hi = lo/f.n, hi/f.n
	if f.empty(b, tile) {
		bg := image.NewUniform(f.opt.Background.SRGB())
		for _, g := range s.out {
			stddraw.Draw(g.Image, image.Rect(lo, f.bands[b].lo/f.n, hi, f.bands[b].hi/f.n), bg, image.Point{}, stddraw.Src)
		}
		return
	}
	for y := f.bands[b].lo / f.n; y < f.bands[b].hi/f.n; y++ {
		for x := lo; x < hi; x++ {
			s.pixel(x, y, px)
		}
	}
}

// pixel is room for what a pixel shows.
type pixel struct {
	parts []facetLight
	inked int // samples under lines
	sums  []RGB
}

// gather sorts the samples of a pixel by facet.
func (p *pixel) gather(f *Frame, px, py int) {
	p.parts, p.inked = p.parts[:0], 0
	for j := range f.n {
		row := (py*f.n+j)*f.w*f.n + px*f.n
		for i, id := range f.facet[row : row+f.n] {
			p.add(id, i, j)
		}
		if f.ink != nil {
			for _, k := range f.ink[row : row+f.n] {
				p.inked += int(k)
			}
		}
	}
}

func (p *pixel) add(id int32, i, j int) {
	for k := range p.parts {
		if q := &p.parts[k]; q.id == id {
			q.n++
			q.x += i
			q.y += j
			return
		}
	}
	p.parts = append(p.parts, facetLight{id: id, n: 1, x: i, y: j})
}

// pixel averages the samples of a pixel in linear light. Samples of one facet
// are coloured together at their middle.
func (s *shader) pixel(px, py int, p *pixel) {
	f := s.f
	p.gather(f, px, py)
	clear(p.sums)
	total := float32(f.n * f.n)
	for _, q := range p.parts {
		k := float32(q.n) / total
		if q.id < 0 {
			for i := range p.sums {
				p.sums[i] = p.sums[i].plus(f.opt.Background, k)
			}
			continue
		}
		at := s.spot(q, px, py)
		l := s.light(at)
		for i, paint := range s.paints {
			p.sums[i] = p.sums[i].plus(paint(at).Times(l), k)
		}
	}
	for i, c := range p.sums {
		if p.inked > 0 {
			c = c.Mix(f.opt.Ink, f.inked*float64(p.inked)/float64(total))
		}
		s.set(s.out[i].Image, px, py, c)
	}
}

func (s *shader) set(img *image.RGBA, x, y int, c RGB) {
	i := img.PixOffset(x, y)
	img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = s.code.at(c.R), s.code.at(c.G), s.code.at(c.B), 255
}

// spot returns the middle of a facet's samples.
func (s *shader) spot(q facetLight, px, py int) Spot {
	n := float64(s.f.n)
	at := Spot{
		Facet: int(q.id),
		X:     float64(px) + (float64(q.x)/float64(q.n)+0.5)/n,
		Y:     float64(py) + (float64(q.y)/float64(q.n)+0.5)/n,
	}
	at.U, at.V, at.W = s.barycentric(q.id, at.X, at.Y)
	return at
}

// light returns the share of full light at a place, Ambient to 1.
func (s *shader) light(at Spot) float64 {
	a, b, c := s.m.at(at.Facet)
	n := r3.Vector{
		X: at.U*float64(a.x) + at.V*float64(b.x) + at.W*float64(c.x),
		Y: at.U*float64(a.y) + at.V*float64(b.y) + at.W*float64(c.y),
		Z: at.U*float64(a.z) + at.V*float64(b.z) + at.W*float64(c.z),
	}
	l := n.Norm()
	if l == 0 {
		return 1
	}
	k := n.Dot(s.key) / l
	if t := s.m.Mesh.Facets[at.Facet]; s.f.opt.TwoSided && turn(s.p, t[0], t[1], t[2]) > 0 {
		return inside * (s.ambient + (1-s.ambient)*math.Max(0, -k))
	}
	// Half-wrapped: the light falls off over the whole sphere, so that round
	// shapes show no hard limit of shadow.
	w := 0.5 + 0.5*k
	w *= w
	if s.f.open != nil {
		o := float64(s.f.open[int(at.Y)*s.f.w+int(at.X)])
		w *= o * o
	}
	return s.ambient + (1-s.ambient)*w
}

// barycentric returns a facet's coordinates at a place in the picture.
func (s *shader) barycentric(id int32, x, y float64) (u, v, w float64) {
	t := s.m.Mesh.Facets[id]
	k := float64(s.f.n * one)
	x, y = x*k, y*k
	ax, ay := float64(s.p.x[t[0]]), float64(s.p.y[t[0]])
	bx, by := float64(s.p.x[t[1]])-ax, float64(s.p.y[t[1]])-ay
	cx, cy := float64(s.p.x[t[2]])-ax, float64(s.p.y[t[2]])-ay
	det := bx*cy - by*cx
	v = clamp01(((x-ax)*cy - (y-ay)*cx) / det)
	w = clamp01((bx*(y-ay) - by*(x-ax)) / det)
	if v+w > 1 {
		v, w = v/(v+w), w/(v+w)
	}
	return 1 - v - w, v, w
}
