package screen

import (
	"math"

	"github.com/golang/geo/r3"
)

// hole is a bore or a slot as a way to the bath runs through it.
type hole struct {
	ends         [2]*End
	out          [2]r3.Vector // unit, out of the hole at its ends
	width, depth float64
	widthAt      func(s float64) float64

	// place tells how far a point lies from the middle across the hole, in
	// widths, and how far along its depth.
	place func(q r3.Vector) (off, s float64)
}

func (b *Bore) hole() hole {
	last := len(b.line) - 1
	return hole{
		ends: [2]*End{&b.Ends[0], &b.Ends[1]}, out: [2]r3.Vector{b.line[0].a.Mul(-1), b.line[last].a},
		width: b.DiameterMM, depth: b.DepthMM, widthAt: b.widthAt,
		place: func(q r3.Vector) (off, s float64) {
			off, s = b.distance(q)
			return off / b.DiameterMM, s
		},
	}
}

func (s *Slot) hole() hole {
	e := s.Across.Cross(s.Axis)
	return hole{
		ends: [2]*End{&s.ends[0], &s.ends[1]}, out: [2]r3.Vector{s.Axis, s.Axis.Mul(-1)},
		width: s.WidthMM, depth: s.DepthMM, widthAt: func(float64) float64 { return s.WidthMM },
		place: func(q r3.Vector) (off, along float64) {
			q = q.Sub(s.At)
			return max(math.Abs(q.Dot(s.Across))/s.WidthMM, math.Abs(q.Dot(e))/s.LengthMM), s.DepthMM/2 - q.Dot(s.Axis)
		},
	}
}

// door is where an end of a hole meets another: its number, or -1, and the
// length along its depth.
type door struct {
	into int
	s    float64
}

// ways finds how deep the ends of holes lie below the bath, through other
// holes where they meet them, how many of them lead there, and so how far the
// bath reaches; bores that wider ones cut in two are joined.
func (p *part) ways(bores []Bore, slots []Slot) []Bore {
	var holes []hole
	for i := range bores {
		holes = append(holes, bores[i].hole())
	}
	for i := range slots {
		holes = append(holes, slots[i].hole())
	}
	doors := make([][2]door, len(holes))
	for i := range holes {
		for e := range 2 {
			doors[i][e] = p.meets(holes, i, e, i >= len(bores))
		}
	}
	settle(holes, doors)
	for i := range bores {
		bores[i].OpenEnds = openEnds(holes, doors, i)
		p.reachBore(&bores[i])
	}
	for i := range slots {
		slots[i].OpenEnds = openEnds(holes, doors, len(bores)+i)
		p.reachSlot(&slots[i])
	}
	return acrossOthers(bores, doors)
}

// meets looks what lies beyond the end e of hole i. Where wide, even an end
// that sees out of the part may do so through another hole, as that of a slot
// in the floor of a pocket does.
func (p *part) meets(holes []hole, i, e int, wide bool) door {
	h := &holes[i]
	end := h.ends[e]
	end.Diameters = math.Inf(1)
	if end.Kind == Open {
		end.Diameters = 0
	}
	d := door{into: -1}
	if end.Kind == Blind || end.Kind == Open && !wide {
		return d
	}
	q := end.At.Add(h.out[e].Mul(0.1 * h.width))
	near := 0.6
	for j := range holes {
		o := &holes[j]
		if off, s := o.place(q); j != i && s >= -0.2*o.width && s <= o.depth+0.2*o.width && off < near {
			_, s = o.place(end.At)
			d, near = door{j, s}, off
		}
	}
	switch {
	case d.into >= 0 && end.Kind == Open:
		end.Kind, end.Diameters = Widens, math.Inf(1)
		if holes[d.into].width < h.width {
			end.Kind = Narrows
		}
	case d.into < 0 && end.Kind == Widens && p.sky(q, h.out[e]) > 0.05:
		end.Kind, end.Diameters = Open, 0
	}
	return d
}

// settle hands on the lengths of ways through doors: after at most one round a
// hole they change no more.
func settle(holes []hole, doors [][2]door) {
	for range holes {
		changed := false
		for i := range holes {
			for e := range 2 {
				d := doors[i][e]
				if d.into < 0 {
					continue
				}
				if n := holes[d.into].deep(d.s); n < holes[i].ends[e].Diameters-1e-9 {
					holes[i].ends[e].Diameters = n
					changed = true
				}
			}
		}
		if !changed {
			return
		}
	}
}

// openEnds counts the ends of hole i from which a way leads to the bath that
// need not come back through the hole itself.
func openEnds(holes []hole, doors [][2]door, i int) int {
	n := 0
	for e := range 2 {
		if holes[i].ends[e].Kind == Open {
			n++
			continue
		}
		seen := make([]bool, len(holes))
		seen[i] = true
		for todo := []int{doors[i][e].into}; len(todo) > 0; {
			j := todo[0]
			todo = todo[1:]
			if j < 0 || seen[j] {
				continue
			}
			seen[j] = true
			if holes[j].ends[0].Kind == Open || holes[j].ends[1].Kind == Open {
				n++
				break
			}
			todo = append(todo, doors[j][0].into, doors[j][1].into)
		}
	}
	return n
}

// deep returns how many widths below the bath the place s along a hole lies.
func (h *hole) deep(s float64) float64 {
	const steps = 32
	s = min(max(s, 0), h.depth)
	sum := func(from, to float64) (n float64) {
		for i := range steps {
			n += (to - from) / steps / h.widthAt(from+(to-from)*(float64(i)+0.5)/steps)
		}
		return n
	}
	return min(h.ends[0].Diameters+sum(0, s), h.ends[1].Diameters+sum(s, h.depth))
}

// sky returns the share of the directions on the side of d in which q sees out of the part.
func (p *part) sky(q, d r3.Vector) float64 {
	n, free := 0, 0
	for _, e := range sphere {
		if e.Dot(d) <= 0 {
			continue
		}
		n++
		if _, hit := p.tree.Ray(q, e, 0, math.Inf(1)); !hit {
			free++
		}
	}
	return float64(free) / float64(max(n, 1))
}
