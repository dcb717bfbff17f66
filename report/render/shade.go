package render

import (
	"context"
	"image"
	stddraw "image/draw"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
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
	p       []projected
	key     r3.Vector
	ambient float64
	code    *encoder
}

// resolve colours all pixels, once with each of the paints.
func (f *Frame) resolve(ctx context.Context, m *Model, p []projected, bands []band, paints []Paint, out []*Frame) error {
	l := f.opt.Light
	k := l.Key.Normalize()
	v := f.View
	s := &shader{
		f: f, m: m, p: p, ambient: l.Ambient, code: screen(),
		key: v.Right.Mul(k.X).Add(v.Up.Mul(k.Y)).Add(v.Toward.Mul(k.Z)),
	}
	tiles := make([]tile, len(bands)) // by worker
	return mesh.Spread(ctx, len(bands), 1, f.opt.Workers, func(worker, i, _ int) error {
		s.band(&bands[i], &tiles[worker], paints, out)
		return nil
	})
}

// tile is what a tile shows.
type tile struct {
	rect   image.Rectangle
	pixels []pixel // row by row
	pieces []piece // of all pixels one after the other
	spots  []Spot  // of those pieces that show the part
	lights []float32
}

// band colours the pixels of a band. It goes tile by tile, since facets that are
// near are so in memory as well, and step by step in each, since the processor
// then fetches what it needs for many places at once.
func (s *shader) band(b *band, t *tile, paints []Paint, out []*Frame) {
	bg := image.NewUniform(s.f.opt.Background.SRGB())
	pixels, pieces := b.pixels, b.pieces
	for i := range b.part {
		lo, hi := s.f.columns(i)
		t.rect = image.Rect(lo, b.lo, hi, b.hi)
		if b.empty(i) {
			for _, g := range out {
				stddraw.Draw(g.Image, t.rect, bg, image.Point{}, stddraw.Src)
			}
			continue
		}
		t.pixels, pixels = pixels[:t.rect.Dx()*t.rect.Dy()], pixels[t.rect.Dx()*t.rect.Dy():]
		n := 0
		for _, q := range t.pixels {
			n += int(q.pieces)
		}
		t.pieces, pieces = pieces[:n], pieces[n:]
		s.look(t)
		for k, paint := range paints {
			s.paint(t, paint, out[k].Image)
		}
	}
	b.pixels, b.pieces = nil, nil
}

// look finds the places of a tile's pieces, and the light on them.
func (s *shader) look(t *tile) {
	t.spots, t.lights = t.spots[:0], t.lights[:0]
	pieces := t.pieces
	for i, q := range t.pixels {
		x, y := t.rect.Min.X+i%t.rect.Dx(), t.rect.Min.Y+i/t.rect.Dx()
		for _, p := range pieces[:q.pieces] {
			if p.id >= 0 {
				t.spots = append(t.spots, s.spot(p, x, y))
			}
		}
		pieces = pieces[q.pieces:]
	}
	for i := range t.spots {
		t.lights = append(t.lights, float32(s.light(&t.spots[i])))
	}
}

// paint averages the pieces of every pixel of a tile in linear light. Samples of
// one facet are coloured together at their middle.
func (s *shader) paint(t *tile, paint Paint, img *image.RGBA) {
	total := float32(s.f.n * s.f.n)
	at, spot := 0, 0
	for i, q := range t.pixels {
		var c RGB
		for _, p := range t.pieces[at : at+int(q.pieces)] {
			k := float32(p.n) / total
			if p.id < 0 {
				c = c.plus(s.f.opt.Background, k)
				continue
			}
			c = c.plus(paint(t.spots[spot]).times(t.lights[spot]), k)
			spot++
		}
		at += int(q.pieces)
		if q.inked > 0 {
			c = c.Mix(s.f.opt.Ink, s.f.inked*float64(q.inked)/float64(total))
		}
		o := img.PixOffset(t.rect.Min.X+i%t.rect.Dx(), t.rect.Min.Y+i/t.rect.Dx())
		img.Pix[o], img.Pix[o+1], img.Pix[o+2], img.Pix[o+3] = s.code.at(c.R), s.code.at(c.G), s.code.at(c.B), 255
	}
}

// spot returns the middle of a facet's samples.
func (s *shader) spot(q piece, px, py int) Spot {
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
func (s *shader) light(at *Spot) float64 {
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
	if t := s.m.Mesh.Facets[at.Facet]; s.f.opt.TwoSided && turn(s.p[t[0]], s.p[t[1]], s.p[t[2]]) > 0 {
		return inside * (s.ambient + (1-s.ambient)*max(0, -k))
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
	a, b, c := &s.p[t[0]], &s.p[t[1]], &s.p[t[2]]
	ax, ay := float64(a.x), float64(a.y)
	bx, by := float64(b.x)-ax, float64(b.y)-ay
	cx, cy := float64(c.x)-ax, float64(c.y)-ay
	det := bx*cy - by*cx
	v = clamp01(((x-ax)*cy - (y-ay)*cx) / det)
	w = clamp01((bx*(y-ay) - by*(x-ax)) / det)
	if v+w > 1 {
		v, w = v/(v+w), w/(v+w)
	}
	return 1 - v - w, v, w
}
