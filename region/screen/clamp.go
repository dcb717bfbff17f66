package screen

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh/finding"
)

// Clamp is a place where the contact may hold the part; it stays untreated there.
type Clamp struct {
	At       r3.Vector
	Normal   r3.Vector // unit, out of the metal
	RoomMM   float64   // diameter of the flat or gently curved place about it
	BehindMM float64   // metal behind it
	MarkMM2  float64   // skin under the contact: stays as printed
	ProudMM  float64   // and stands proud by so much afterwards
	Exposure float64   // share of the mean current there, 0 when no field is known
}

// Bounds of what a contact needs.
const (
	clampShare    = 0.25           // largest diameter of a contact, as share of the part's longest side
	clampFlat     = 15 * s1.Degree // a place is flat where normals differ by no more
	clampRoomMM   = 8.0            // free way that a contact needs ahead
	clampBehindMM = 0.8            // metal that carries it
	mostClamps    = 3              // places that are told
	clampTries    = 60             // flat places looked at, largest first
	clampApart    = 2.0            // diameters between two places told
)

// contactMM is the diameter of the contact for this part.
func (p *part) contactMM() float64 {
	d := p.hi.Sub(p.lo)
	return min(p.lim.ContactMM, clampShare*max(d.X, d.Y, d.Z))
}

func (p *part) contactMM2() float64 { return math.Pi / 4 * p.contactMM() * p.contactMM() }

// clamps finds places for the contact: flat, thick, free ahead, no wall of a
// hole, not in a keep zone; best those that lose least by being covered.
func (p *part) clamps() []Clamp {
	patches := p.flats()
	var all []Clamp
	for _, f := range patches {
		if c, ok := p.clampOn(f); ok {
			all = append(all, c)
		}
	}
	// Little current first where the field is known, else the roomiest.
	slices.SortStableFunc(all, func(a, b Clamp) int {
		return cmp.Or(cmp.Compare(math.Round(10*a.Exposure), math.Round(10*b.Exposure)), cmp.Compare(b.RoomMM, a.RoomMM))
	})
	var out []Clamp
	for _, c := range all {
		if len(out) == mostClamps {
			break
		}
		if !slices.ContainsFunc(out, func(o Clamp) bool { return o.At.Sub(c.At).Norm() < clampApart*p.contactMM() }) {
			out = append(out, c)
		}
	}
	return out
}

// flats returns the pieces of skin that are flat enough, largest first.
func (p *part) flats() [][]int32 {
	cos := math.Cos(clampFlat.Radians())
	taken := make([]bool, len(p.m.Facets))
	order := make([]int32, 0, len(p.m.Facets))
	for f := range p.m.Facets {
		if p.area[f] > 0 && !p.hollow[f] && !p.stray[f] && !p.claimed[f] && (p.opt.Kept == nil || !p.opt.Kept[f]) {
			order = append(order, int32(f))
		} else {
			taken[f] = true
		}
	}
	slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(p.area[b], p.area[a]) })
	type flat struct {
		facets []int32
		area   float64
	}
	var all []flat
	for _, seed := range order {
		if taken[seed] {
			continue
		}
		n := p.normal[seed]
		fl := flat{facets: []int32{seed}}
		taken[seed] = true
		for k := 0; k < len(fl.facets); k++ {
			f := fl.facets[k]
			fl.area += p.area[f]
			for e := range int32(3) {
				t := p.topo.Twin[3*f+e]
				if t >= 0 && !taken[t/3] && p.normal[t/3].Dot(n) >= cos {
					taken[t/3] = true
					fl.facets = append(fl.facets, t/3)
				}
			}
		}
		if fl.area >= p.contactMM2() {
			all = append(all, fl)
		}
	}
	slices.SortStableFunc(all, func(a, b flat) int { return cmp.Compare(b.area, a.area) })
	var out [][]int32
	for i := range min(len(all), clampTries) {
		out = append(out, all[i].facets)
	}
	return out
}

// clampOn returns the place of a flat piece that is furthest from its border,
// among those with room ahead and metal behind.
func (p *part) clampOn(facets []int32) (best Clamp, ok bool) {
	in := map[int32]bool{}
	for _, f := range facets {
		in[f] = true
	}
	type segment struct{ a, b r3.Vector }
	var border []segment
	var places []int32
	for _, f := range facets {
		for e := range int32(3) {
			if t := p.topo.Twin[3*f+e]; t < 0 || !in[t/3] {
				border = append(border, segment{p.m.Vertices[p.m.Origin(3*f+e)], p.m.Vertices[p.m.Target(3*f+e)]})
			}
		}
		for i := p.first[f]; i < p.first[f+1]; i++ {
			if s := &p.samples[i]; s.in >= clampBehindMM && s.out >= clampRoomMM {
				places = append(places, i)
			}
		}
	}
	const most = 400
	every := len(places)/most + 1
	for k := 0; k < len(places); k += every {
		s := &p.samples[places[k]]
		room := math.Inf(1)
		for _, b := range border {
			d := b.b.Sub(b.a)
			t := min(max(s.at.Sub(b.a).Dot(d)/max(d.Norm2(), 1e-300), 0), 1)
			room = min(room, 2*s.at.Sub(b.a.Add(d.Mul(t))).Norm())
			if room <= best.RoomMM {
				break
			}
		}
		if room <= best.RoomMM || math.IsInf(room, 1) {
			continue
		}
		best = Clamp{At: s.at, Normal: p.normal[s.facet], RoomMM: room, BehindMM: s.in, MarkMM2: p.contactMM2(), ProudMM: mean(p.opt.AllowanceMM, s.facet)}
		if p.opt.Exposure != nil {
			best.Exposure = p.opt.Exposure[s.facet]
		}
	}
	return best, best.RoomMM >= p.contactMM()
}

func (p *part) clampFindings(cs []Clamp) []finding.Finding {
	if len(cs) == 0 {
		return []finding.Finding{{
			Code: "clamp_spot", Severity: finding.Warning, Count: 1, SizeMM: p.contactMM(),
			Message: fmt.Sprintf("no place for the contact: nowhere outside holes and keep zones is there a flat place of %s mm (%s) with metal behind and room ahead", tenths(p.contactMM()), assumed(p.lim.Origins.Contact)),
			Remedy:  "add a tab or a tapped boss for the contact and take it off afterwards",
		}}
	}
	c := cs[0]
	at := c.At
	msg := fmt.Sprintf("the contact can sit on a flat place of %s mm, and at %d more", tenths(c.RoomMM), len(cs)-1)
	if len(cs) == 1 {
		msg = fmt.Sprintf("the contact can sit on a flat place of %s mm, the only one", tenths(c.RoomMM))
	}
	msg += fmt.Sprintf("; a contact of %s mm (%s) leaves %s mm2 as printed", tenths(p.contactMM()), assumed(p.lim.Origins.Contact), tenths(c.MarkMM2))
	if c.ProudMM > 0 {
		msg += fmt.Sprintf(", %.3f mm proud", c.ProudMM)
	}
	return []finding.Finding{{
		Code: "clamp_spot", Severity: finding.Info, At: &at, SizeMM: c.RoomMM, Count: len(cs),
		Message: msg, Remedy: "put the contact on a face without function, and dress the mark by hand",
	}}
}
