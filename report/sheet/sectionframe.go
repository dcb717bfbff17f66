package sheet

import (
	"image"
	"math"
)

// frame2 maps mm in the plane to pixels.
type frame2 struct {
	rect  image.Rectangle
	mid   point // mm
	scale float64
}

func (f frame2) px(p point) point {
	return point{
		float64(f.rect.Min.X+f.rect.Max.X)/2 + (p.x-f.mid.x)*f.scale,
		float64(f.rect.Min.Y+f.rect.Max.Y)/2 - (p.y-f.mid.y)*f.scale,
	}
}

// paths returns outlines in pixels. Points nearer than a third of a pixel to
// the last are left out; with clip, what lies far outside the frame is cut off.
func (f frame2) paths(outs []outline, clip bool) [][]point {
	var all [][]point
	r := f.rect.Inset(-10) // lines along the cut stay out of sight
	for _, o := range outs {
		px := make([]point, len(o.points))
		for i, q := range o.points {
			px[i] = f.px(q)
		}
		if clip {
			px = clipPolygon(px, r)
		}
		var p []point
		for i, x := range px {
			if n := len(p); n > 0 && i < len(px)-1 && math.Hypot(x.x-p[n-1].x, x.y-p[n-1].y) < 0.33 {
				continue
			}
			p = append(p, x)
		}
		if len(p) > 0 {
			all = append(all, p)
		}
	}
	return all
}

// clipPolygon cuts a closed polygon to a rectangle (I. Sutherland and G.
// Hodgman, Communications of the ACM 17, 1974, 32).
func clipPolygon(p []point, r image.Rectangle) []point {
	for _, h := range [...]struct{ a, b, c float64 }{ // inside where a x + b y + c >= 0
		{1, 0, -float64(r.Min.X)},
		{-1, 0, float64(r.Max.X)},
		{0, 1, -float64(r.Min.Y)},
		{0, -1, float64(r.Max.Y)},
	} {
		var out []point
		for i, q := range p {
			o := p[(i+len(p)-1)%len(p)]
			dq, do := h.a*q.x+h.b*q.y+h.c, h.a*o.x+h.b*o.y+h.c
			if (dq >= 0) != (do >= 0) {
				t := do / (do - dq)
				out = append(out, point{o.x + (q.x-o.x)*t, o.y + (q.y-o.y)*t})
			}
			if dq >= 0 {
				out = append(out, q)
			}
		}
		p = out
	}
	return p
}
