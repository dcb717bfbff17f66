package offset

import (
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/offset/field"
	"skinstock/offset/recipe"
)

// ErrNoRoom says that the part does not fit between the cathodes of its recipe.
var ErrNoRoom = errors.New("no room in the bath")

// roomForStockMM is left around the nominal part's box for the stock.
const roomForStockMM = 1

// fieldOptions are what every field run on this part shares.
func (pl *Planned) fieldOptions(job Job) (field.Options, error) {
	lo, hi := pl.Nominal.Bounds()
	stock := r3.Vector{X: roomForStockMM, Y: roomForStockMM, Z: roomForStockMM}
	walls, err := surroundings(&job.Recipe.Bath, lo.Sub(stock), hi.Add(stock))
	return field.Options{PolarisationMM: job.Recipe.Bath.PolarisationMM.Value, Walls: walls, Insulated: pl.masked, Workers: job.Workers}, err
}

// surroundings returns what surrounds a part in field runs: plates at potential 0, and
// the vessel. Its walls are at 0 too unless there are plates, which then
// take the current; its top is the bath's surface and always insulates. lo and hi
// are the part's box, stock included, in whose middle the bath has its own.
func surroundings(b *recipe.Bath, lo, hi r3.Vector) ([]field.Wall, error) {
	mid := lo.Add(hi).Mul(0.5)
	half := hi.Sub(lo).Mul(0.5)
	var out []field.Wall
	for i, c := range b.Cathodes {
		at, h := vector(c.AtMM), vector(c.SizeMM).Mul(0.5)
		gap := boxGap(at, h, half)
		if gap <= 0 {
			return nil, fmt.Errorf("%w: cathode %d overlaps the part's box of %.4g x %.4g x %.4g mm, stock included: move it outwards",
				ErrNoRoom, i+1, 2*half.X, 2*half.Y, 2*half.Z)
		}
		out = append(out, field.Wall{Mesh: grid(mid.Add(at).Sub(h), mid.Add(at).Add(h), gap)})
	}
	if b.FarField != recipe.FarVessel {
		return out, nil
	}
	h := vector(b.VesselMM).Mul(0.5)
	gap := math.Min(h.X-half.X, math.Min(h.Y-half.Y, h.Z-half.Z))
	if gap <= 0 {
		return nil, fmt.Errorf("%w: the part's box of %.4g x %.4g x %.4g mm, stock included, is larger than the vessel of %.4g x %.4g x %.4g mm",
			ErrNoRoom, 2*half.X, 2*half.Y, 2*half.Z, 2*h.X, 2*h.Y, 2*h.Z)
	}
	box := solid.Reverse(grid(mid.Sub(h), mid.Add(h), gap))
	sides, top := &mesh.Mesh{Vertices: box.Vertices}, &mesh.Mesh{Vertices: box.Vertices}
	for f, t := range box.Facets {
		if box.FacetNormal(f).Z < -0.5 {
			top.Facets = append(top.Facets, t)
		} else {
			sides.Facets = append(sides.Facets, t)
		}
	}
	return append(out, field.Wall{Mesh: sides, Insulated: len(b.Cathodes) > 0}, field.Wall{Mesh: top, Insulated: true}), nil
}

func vector(v []float64) r3.Vector { return r3.Vector{X: v[0], Y: v[1], Z: v[2]} }

// boxGap is the distance between a box with its middle at at and one about the
// origin, by their half extents; 0 or less when they overlap or touch.
func boxGap(at, h, half r3.Vector) float64 {
	var out2, in float64 = 0, math.Inf(-1)
	for _, d := range [3]float64{math.Abs(at.X) - h.X - half.X, math.Abs(at.Y) - h.Y - half.Y, math.Abs(at.Z) - h.Z - half.Z} {
		if d > 0 {
			out2 += d * d
		}
		in = math.Max(in, d)
	}
	if in <= 0 {
		return in
	}
	return math.Sqrt(out2)
}

// Panels on walls, as shares: the current there need only be resolved as far as
// the part feels it, which is at the distance of the gap.
const (
	wallGap    = 0.6
	wallMost   = 1. / 6  // of the longest side
	wallFinest = 1. / 28 // of the longest side
)

// grid is a box whose faces are cut to squares for a part gap away.
func grid(lo, hi r3.Vector, gap float64) *mesh.Mesh {
	d := hi.Sub(lo)
	long := math.Max(d.X, math.Max(d.Y, d.Z))
	step := math.Max(wallFinest*long, math.Min(wallMost*long, wallGap*gap))
	side := func(l float64) int32 { return int32(math.Max(1, math.Ceil(l/step))) }
	n := [3]int32{side(d.X), side(d.Y), side(d.Z)}
	m := &mesh.Mesh{}
	for axis := range 3 {
		u, v := (axis+1)%3, (axis+2)%3
		for end := range int32(2) {
			first := int32(len(m.Vertices))
			for j := range n[v] + 1 {
				for i := range n[u] + 1 {
					var s [3]float64
					s[axis], s[u], s[v] = float64(end), float64(i)/float64(n[u]), float64(j)/float64(n[v])
					m.Vertices = append(m.Vertices, lo.Add(r3.Vector{X: s[0] * d.X, Y: s[1] * d.Y, Z: s[2] * d.Z}))
				}
			}
			for j := range n[v] {
				for i := range n[u] {
					a := first + j*(n[u]+1) + i
					b, c, e := a+1, a+n[u]+2, a+n[u]+1
					if end == 0 {
						b, e = e, b
					}
					m.Facets = append(m.Facets, [3]int32{a, b, c}, [3]int32{a, c, e})
				}
			}
		}
	}
	return m
}
