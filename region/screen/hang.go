package screen

import (
	"context"
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh/finding"
	"skinstock/region"
)

// Bath is the room that the part hangs in.
type Bath struct {
	SizeMM      [3]float64 // usable length, width and depth; zero: not judged
	ClearanceMM float64    // to keep on all sides
}

func (b Bath) known() bool { return b.SizeMM != [3]float64{} }

// Hanging is how the part hangs in the bath.
type Hanging struct {
	Up        r3.Vector // unit, upwards in the bath
	GasMM3    float64   // held by gas pockets
	LiquidMM3 float64   // kept by liquid traps

	SizeMM  [3]float64 // of the grown part: length, width and depth in the bath, turned about Up to fit best
	SpareMM float64    // least of bath less twice the clearance less size; negative: does not fit
	Tried   int        // directions that were compared, 1 when Up was given
	Judged  bool       // the fit was judged

	// Fits is a direction upwards in which the part fits, where it does not as it
	// hangs; zero for none.
	Fits r3.Vector
}

// hangings is how many directions a search compares at most; large parts get
// fewer, since every one sorts all vertices.
const (
	hangings     = 98
	leastHanging = 14 // faces and corners of a cube
	hangVertices = 4_000_000
)

// hangWays lists directions to compare: the first, then those of a cube's
// faces, corners and edges, then a spiral.
func hangWays(first r3.Vector, n int) []r3.Vector {
	out := []r3.Vector{first}
	for _, l := range [3]int{1, 3, 2} {
		for x := -1; x <= 1; x++ {
			for y := -1; y <= 1; y++ {
				for z := -1; z <= 1; z++ {
					if x*x+y*y+z*z == l {
						out = append(out, r3.Vector{X: float64(x), Y: float64(y), Z: float64(z)}.Normalize())
					}
				}
			}
		}
	}
	golden := math.Pi * (3 - math.Sqrt(5))
	const more = hangings - 27
	for i := range more {
		z := 1 - 2*(float64(i)+0.5)/more
		s, c := math.Sincos(golden * float64(i))
		q := math.Sqrt(1 - z*z)
		out = append(out, r3.Vector{X: q * c, Y: q * s, Z: z})
	}
	return out[:min(n, len(out))]
}

// extremes are vertices furthest out in many directions: the part as a bath sees it.
func (p *part) extremes() []r3.Vector {
	seen := map[int32]bool{}
	var out []r3.Vector
	const n = 200
	golden := math.Pi * (3 - math.Sqrt(5))
	for i := range n {
		z := 1 - (float64(i)+0.5)/n // a half sphere: each direction gives two vertices
		s, c := math.Sincos(golden * float64(i))
		q := math.Sqrt(1 - z*z)
		d := r3.Vector{X: q * c, Y: q * s, Z: z}
		lo, hi := int32(0), int32(0)
		least, most := math.Inf(1), math.Inf(-1)
		for v := range p.m.Vertices {
			if h := p.m.Vertices[v].Dot(d); h < least {
				least, lo = h, int32(v)
			} else if h > most {
				most, hi = h, int32(v)
			}
		}
		for _, v := range [2]int32{lo, hi} {
			if !seen[v] {
				seen[v] = true
				out = append(out, p.m.Vertices[v])
			}
		}
	}
	return out
}

// fit turns the part about up so that it has the most room in the bath.
func (p *part) fit(h *Hanging, points []r3.Vector) {
	grow := 0.0
	for _, c := range p.opt.AllowanceMM {
		grow = max(grow, c[0], c[1], c[2])
	}
	extent := func(d r3.Vector) float64 {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, q := range points {
			z := q.Dot(d)
			lo, hi = min(lo, z), max(hi, z)
		}
		return hi - lo + 2*grow
	}
	u, v := region.Across(h.Up)
	if math.Abs(h.Up.Z) > 0.999 {
		u, v = r3.Vector{X: 1}, r3.Vector{Y: 1}
	}
	depth := extent(h.Up)
	h.SpareMM = math.Inf(-1)
	const turns = 60
	for k := range turns {
		sin, cos := math.Sincos(math.Pi * float64(k) / turns)
		size := [3]float64{extent(u.Mul(cos).Add(v.Mul(sin))), extent(v.Mul(cos).Sub(u.Mul(sin))), depth}
		spare := math.Inf(1)
		for i, s := range size {
			if p.opt.Bath.known() {
				spare = min(spare, p.opt.Bath.SizeMM[i]-2*p.opt.Bath.ClearanceMM-s)
			} else {
				spare = min(spare, -s) // the smallest box
			}
		}
		if spare > h.SpareMM+1e-9 {
			h.SpareMM, h.SizeMM = spare, size
		}
	}
	if h.Judged = p.opt.Bath.known(); !h.Judged {
		h.SpareMM = 0
	}
}

// hang finds how the part hangs, with what it holds back.
func (p *part) hang(ctx context.Context) (Hanging, []Pocket, error) {
	ups := []r3.Vector{p.opt.BathUp}
	if p.opt.SearchHanging {
		ups = hangWays(p.opt.BathUp, min(max(hangVertices/max(len(p.m.Vertices), 1), leastHanging), hangings))
	}
	points := p.extremes()
	all := make([]Hanging, len(ups))
	pockets := make([][]Pocket, len(ups))
	err := p.eachSlowly(ctx, len(ups), func(i int) {
		h := &all[i]
		h.Up = ups[i]
		pockets[i] = append(p.pockets(GasPocket, h.Up), p.pockets(LiquidTrap, h.Up)...)
		for _, q := range pockets[i] {
			if q.Kind == GasPocket {
				h.GasMM3 += q.VolumeMM3
			} else {
				h.LiquidMM3 += q.VolumeMM3
			}
		}
		p.fit(h, points)
	})
	if err != nil {
		return Hanging{}, nil, err
	}
	best := 0
	for i := range all {
		if all[i].better(&all[best], p.opt.BathUp) {
			best = i
		}
	}
	h := all[best]
	h.Tried = len(ups)
	if h.Judged && h.SpareMM < 0 && !p.opt.SearchHanging {
		h.Fits = p.otherWay(points)
	}
	return h, pockets[best], nil
}

// otherWay returns the direction upwards in which the part fits with most to spare; zero for none.
func (p *part) otherWay(points []r3.Vector) r3.Vector {
	var best Hanging
	for _, up := range hangWays(p.opt.BathUp, hangings) {
		h := Hanging{Up: up}
		if p.fit(&h, points); h.SpareMM >= 0 && (best.Up == (r3.Vector{}) || h.SpareMM > best.SpareMM+1e-9) {
			best = h
		}
	}
	return best.Up
}

// better prefers what fits, then what holds back less, then what is turned less.
func (h *Hanging) better(o *Hanging, first r3.Vector) bool {
	if a, b := h.SpareMM >= 0, o.SpareMM >= 0; a != b {
		return a
	}
	a, b := h.GasMM3+h.LiquidMM3, o.GasMM3+o.LiquidMM3
	if math.Abs(a-b) > 0.01*max(a, b) {
		return a < b
	}
	return h.Up.Dot(first) > o.Up.Dot(first)+1e-9
}

func (p *part) hangFindings(h Hanging) []finding.Finding {
	if !h.Judged || h.SpareMM >= 0 {
		return nil
	}
	b := p.opt.Bath
	f := finding.Finding{Code: "too_large", Severity: finding.Error, SizeMM: -h.SpareMM, Count: 1, Remedy: "use a larger bath, or divide the part"}
	how := "hung this way and turned as fits best"
	if h.Tried > 1 {
		how = fmt.Sprintf("hung in any of %d directions", h.Tried)
	}
	f.Message = fmt.Sprintf("the grown part takes %.1f x %.1f x %.1f mm %s and does not fit the bath of %.0f x %.0f x %.0f mm with %.0f mm clearance: %.1f mm are missing",
		h.SizeMM[0], h.SizeMM[1], h.SizeMM[2], how, b.SizeMM[0], b.SizeMM[1], b.SizeMM[2], b.ClearanceMM, -h.SpareMM)
	switch {
	case h.Fits != (r3.Vector{}):
		way := fmt.Sprintf("(%.3g, %.3g, %.3g)", h.Fits.X, h.Fits.Y, h.Fits.Z)
		f.Severity = finding.Warning
		f.Message += "; it fits with " + way + " upwards"
		f.Remedy = "hang the part with " + way + " upwards, and look at what it holds back then"
	case h.Tried == 1:
		f.Message += fmt.Sprintf("; nor does it in %d other directions", hangings-1)
	}
	return []finding.Finding{f}
}
