package screen

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/finding"
)

// PocketKind tells what a pocket holds.
type PocketKind uint8

// Kinds of pockets.
const (
	GasPocket  PocketKind = iota // opens downwards: holds gas when the part goes in
	LiquidTrap                   // opens upwards: holds electrolyte when the part comes out
)

var pocketNames = [...]string{"gas_pocket", "liquid_trap"}

// String returns the finding code of the kind.
func (k PocketKind) String() string { return pocketNames[k] }

// MarshalText writes the name.
func (k PocketKind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// Pocket holds gas or liquid in the bath.
type Pocket struct {
	Kind      PocketKind
	At        r3.Vector // its highest place for gas, its lowest for liquid: where a vent or drain belongs
	DepthMM   float64
	VolumeMM3 float64
}

// pockets finds what holds liquid against the direction up, or gas along it.
//
// The skin's vertices are taken in order of height. What has been taken so far
// falls into pieces; a piece whose facets look up more than down (its projected
// area is positive) is the inside of a basin, one that looks down the underside
// of metal. A basin spills when it meets an underside larger than itself: until
// then the liquid stands in it up to that height. Its volume is the integral
// of height below the level over the projected area, exact for the mesh.
// Gas is the same upside down. A piece smaller than the basin it meets, such as
// a rod that dips into it, does not make it spill.
func (p *part) pockets(kind PocketKind, up r3.Vector) []Pocket {
	if kind == GasPocket {
		up = up.Mul(-1)
	}
	nv := len(p.m.Vertices)
	h := make([]float64, nv)
	order := make([]int32, nv)
	for v := range h {
		h[v] = p.m.Vertices[v].Dot(up)
		order[v] = int32(v)
	}
	slices.SortFunc(order, func(a, b int32) int { return cmp.Or(cmp.Compare(h[a], h[b]), cmp.Compare(a, b)) })
	rank := make([]int32, nv)
	for i, v := range order {
		rank[v] = int32(i)
	}
	// A third of each facet's projected area at each of its vertices.
	look := make([]float64, nv)
	for f, t := range p.m.Facets {
		a := p.area[f] * p.normal[f].Dot(up) / 3
		for _, v := range t {
			look[v] += a
		}
	}
	inc := p.m.Incidence()
	const untaken = int32(-1)
	root := make([]int32, nv) // of the piece a vertex is in; pieces hang together as rings in next
	next := make([]int32, nv)
	for i := range root {
		root[i] = untaken
		next[i] = int32(i)
	}
	find := func(v int32) int32 {
		for root[v] != v {
			root[v] = root[root[v]]
			v = root[v]
		}
		return v
	}
	outside := make([]bool, nv) // by root: the piece reaches the lowest place of all
	outside[order[0]] = true
	size := make([]int32, nv)
	var out []Pocket
	pour := func(r int32, level float64) {
		if q, ok := p.basin(inc, r, next, h, rank, level, up); ok {
			q.Kind = kind
			out = append(out, q)
		}
	}
	for _, v := range order {
		root[v], size[v] = v, 1
		for _, c := range inc.Of(v) {
			for k := range int32(3) {
				w := p.m.Facets[c/3][k]
				if w == v || rank[w] > rank[v] {
					continue
				}
				a, b := find(v), find(w)
				if a == b {
					continue
				}
				sum := look[a] + look[b]
				open := outside[a] || outside[b] || sum < 0
				if open {
					for _, r := range [2]int32{a, b} {
						if !outside[r] && look[r] > 0 {
							pour(r, h[v])
						}
					}
				}
				out := outside[a] || outside[b]
				if size[a] < size[b] {
					a, b = b, a
				}
				root[b] = a
				size[a] += size[b]
				next[a], next[b] = next[b], next[a]
				look[a], outside[a] = sum, out
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Pocket) int { return cmp.Compare(b.VolumeMM3, a.VolumeMM3) })
	return out
}

// basin measures the piece of skin that hangs together in the ring of r, up to a level.
func (p *part) basin(inc *mesh.Incidence, r int32, next []int32, h []float64, rank []int32, level float64, up r3.Vector) (Pocket, bool) {
	low := r
	for v := next[r]; v != r; v = next[v] {
		if rank[v] < rank[low] {
			low = v
		}
	}
	q := Pocket{At: p.m.Vertices[low], DepthMM: level - h[low]}
	if q.DepthMM < p.lim.MinPocketMM {
		return q, false
	}
	seen := map[int32]bool{}
	for v, first := r, true; first || v != r; v, first = next[v], false {
		for _, c := range inc.Of(v) {
			f := c / 3
			if seen[f] {
				continue
			}
			seen[f] = true
			if p.hollow[f] || p.stray[f] {
				return q, false
			}
			t := p.m.Facets[f]
			q.VolumeMM3 += p.normal[f].Dot(up) * p.area[f] * below(h[t[0]], h[t[1]], h[t[2]], level)
		}
	}
	return q, q.VolumeMM3 >= p.lim.MinPocketMM3
}

// below returns the mean of max(level - height, 0) over a triangle whose
// corners lie at the heights a, b and c.
func below(a, b, c, level float64) float64 {
	d := []float64{level - a, level - b, level - c}
	slices.Sort(d)
	lo, mid, hi := d[0], d[1], d[2]
	switch {
	case hi <= 0:
		return 0
	case lo >= 0:
		return (lo + mid + hi) / 3
	case mid <= 0: // one corner is below: a small triangle, similar at that corner
		return hi / 3 * (hi / (hi - lo)) * (hi / (hi - mid))
	default: // one corner is above: the whole less the negative tip
		return (lo+mid+hi)/3 - lo/3*(lo/(lo-hi))*(lo/(lo-mid))
	}
}

func pocketFindings(pockets []Pocket) []finding.Finding {
	var out []finding.Finding
	for _, q := range pockets {
		at := q.At
		f := finding.Finding{Code: q.Kind.String(), Severity: finding.Warning, At: &at, SizeMM: q.DepthMM, Count: 1}
		depth := math.Round(100*q.DepthMM) / 100
		if q.Kind == GasPocket {
			f.Message = fmt.Sprintf("pocket opens downwards in the bath and holds up to %s of gas, %g mm deep: not treated where the gas stands", volume(q.VolumeMM3), depth)
			f.Remedy = "hang the part so that it opens upwards or sideways, or vent it at its highest place"
		} else {
			f.Message = fmt.Sprintf("pocket opens upwards in the bath and keeps %s of electrolyte, %g mm deep, when the part is lifted out", volume(q.VolumeMM3), depth)
			f.Remedy = "tilt the part to drain, or give it a drain at its lowest place, and rinse it out"
		}
		out = append(out, f)
	}
	return limited(alike(out))
}
