package screen

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/mesh/disjoint"
	"skinstock/mesh/finding"
)

// edgeClasses are the upper ends of the ranges of angle, degrees.
var edgeClasses = [...]float64{30, 60, 80, 100, 140, 180}

// straightOn is the turn at a vertex up to which an edge goes on: a rim of
// eight sides is one edge, a square's are four.
const straightOn = 50 * s1.Degree

// segment is a sharp edge of the mesh.
type segment struct {
	a, b  int32
	angle float64 // of the metal or the void, degrees
	l     float64
	take  float64 // depth the bath takes there, mm
}

// edges measures the sharp edges: convex ones, which the bath rounds, and
// concave ones, in which a fillet stays (references.md sections 6.7 and 7.4).
func (p *part) edges() (convex, concave Edges) {
	var out, in []segment
	for h, t := range p.topo.Twin {
		if t <= int32(h) { // None included
			continue
		}
		f, g := int32(h)/3, t/3
		n1, n2 := p.normal[f], p.normal[g]
		if p.stray[f] || p.hollow[f] || p.thread[f] || p.thread[g] || n1 == (r3.Vector{}) || n2 == (r3.Vector{}) {
			continue
		}
		d := n1.Dot(n2)
		if d > 0.999 {
			continue
		}
		turn := math.Atan2(n1.Cross(n2).Norm(), d)
		if turn <= p.lim.SharpFrom.Radians() || p.sliver(f) || p.sliver(g) {
			continue
		}
		s := segment{a: p.m.Origin(int32(h)), b: p.m.Target(int32(h)), angle: 180 - turn*180/math.Pi}
		s.l = p.m.Vertices[s.b].Sub(p.m.Vertices[s.a]).Norm()
		s.take = max(mean(p.opt.TakenMM, f), mean(p.opt.TakenMM, g))
		opposite := p.m.Vertices[p.m.Origin(mesh.Prev(t))]
		if opposite.Sub(p.m.Vertices[s.a]).Dot(n1) < 0 {
			out = append(out, s)
		} else {
			in = append(in, s)
		}
	}
	return p.gather(out, p.rounding), p.gather(in, func(s *segment) (lo, hi float64) { return s.take, s.take })
}

// rounding returns the band in which the radius of a convex edge will lie: for
// a square edge half to twice the depth taken, sharper ones towards the tip's
// factor (references.md section 11).
func (p *part) rounding(s *segment) (lo, hi float64) {
	e, t := p.lim.EdgeRadiusFactor, p.lim.TipRadiusFactor
	// From the edge's factor at 90 degrees to the tip's at 30 and below; in
	// proportion to the turn above 90.
	k := e
	switch {
	case s.angle < 90:
		k = e + (t-e)*min((90-s.angle)/60, 1)
	default:
		k = e * (180 - s.angle) / 90
	}
	return 0.5 * k * s.take, 2 * k * s.take
}

// gather sums segments up by class and joins them to chains.
func (p *part) gather(segs []segment, radius func(*segment) (lo, hi float64)) Edges {
	e := Edges{SharpestDeg: 180}
	if len(segs) == 0 {
		return e
	}
	// Chains: segments that meet two at a vertex and go on, within a class.
	class := func(s *segment) int {
		for i, to := range edgeClasses {
			if s.angle < to {
				return i
			}
		}
		return len(edgeClasses) - 1
	}
	at := map[int32][]int32{}
	for i := range segs {
		at[segs[i].a] = append(at[segs[i].a], int32(i))
		at[segs[i].b] = append(at[segs[i].b], int32(i))
	}
	runs := disjoint.New(len(segs))
	join := func(v int32) {
		two := at[v]
		if len(two) != 2 {
			return
		}
		s, t := &segs[two[0]], &segs[two[1]]
		out := func(s *segment) r3.Vector {
			o := s.a
			if o == v {
				o = s.b
			}
			return p.m.Vertices[o].Sub(p.m.Vertices[v]).Normalize()
		}
		if class(s) == class(t) && out(s).Dot(out(t)) <= -math.Cos(straightOn.Radians()) {
			runs.Join(two[0], two[1])
		}
	}
	for i := range segs {
		join(segs[i].a)
		join(segs[i].b)
	}
	var cls [len(edgeClasses)]EdgeClass
	var longest [len(edgeClasses)]float64
	from := 0.0
	for i, to := range edgeClasses {
		cls[i] = EdgeClass{FromDeg: from, ToDeg: to, RadiusMM: [2]float64{math.Inf(1), 0}}
		from = to
	}
	for i := range segs {
		s := &segs[i]
		k := class(s)
		c := &cls[k]
		c.LengthMM += s.l
		e.LengthMM += s.l
		if runs.Find(int32(i)) == int32(i) {
			c.Count++
			e.Count++
		}
		mid := p.m.Vertices[s.a].Add(p.m.Vertices[s.b]).Mul(0.5)
		if s.l > longest[k] {
			longest[k], c.At = s.l, mid
		}
		lo, hi := radius(s)
		c.RadiusMM[0] = min(c.RadiusMM[0], lo)
		c.RadiusMM[1] = max(c.RadiusMM[1], hi)
		if s.angle < e.SharpestDeg {
			e.SharpestDeg, e.At = s.angle, mid
		}
	}
	for _, c := range cls {
		if c.LengthMM > 0 {
			e.Classes = append(e.Classes, c)
		}
	}
	return e
}

// tellEdgeMM is the length below which edges are a flaw of the mesh.
const tellEdgeMM = 0.5

func (p *part) edgeFindings(convex, concave Edges) []finding.Finding {
	var out []finding.Finding
	places := func(n int) string {
		if n == 1 {
			return "edge"
		}
		return "edges"
	}
	for _, c := range convex.Classes {
		if c.LengthMM < tellEdgeMM {
			continue
		}
		at := c.At
		f := finding.Finding{Code: "sharp_edge", Severity: finding.Info, At: &at, SizeMM: c.LengthMM, Count: c.Count}
		f.Message = fmt.Sprintf("%s mm of sharp %s, metal angle %.0f to %.0f deg", tenths(c.LengthMM), places(c.Count), c.FromDeg, c.ToDeg)
		if c.RadiusMM[1] > 0 {
			f.Message += fmt.Sprintf(": the bath rounds them to a radius of about %.2f to %.2f mm (%s)", c.RadiusMM[0], c.RadiusMM[1], assumed(p.lim.Origins.EdgeRadius))
		} else {
			f.Message += ": the bath takes more from them than from the faces beside them"
		}
		f.Remedy = "design the radius in where the edge matters, or keep stock on it"
		if c.ToDeg <= 60 {
			f.Severity = finding.Warning
			f.Remedy = "blunt or round it: a keen edge loses several times the depth and may burn"
		}
		out = append(out, f)
	}
	for _, c := range concave.Classes {
		if c.FromDeg >= 140 || c.LengthMM < tellEdgeMM {
			continue
		}
		at := c.At
		f := finding.Finding{Code: "inside_corner", Severity: finding.Info, At: &at, SizeMM: c.LengthMM, Count: c.Count}
		f.Message = fmt.Sprintf("%s mm of inside %s, void angle %.0f to %.0f deg", tenths(c.LengthMM), places(c.Count), c.FromDeg, c.ToDeg)
		if d := c.RadiusMM[1]; d > 0 {
			f.Message += fmt.Sprintf(": a fillet of radius %.2f mm, the depth the bath takes, stays", d)
			if c.FromDeg >= 80 && c.ToDeg <= 100 {
				f.Message += fmt.Sprintf(", %.3f mm of metal left on the bisector of a square corner", (math.Sqrt2-1)*d)
			}
		} else {
			f.Message += ": a fillet of the depth the bath takes stays"
		}
		f.Remedy = "draw a fillet of at least that radius, or relieve the corner where parts must seat"
		out = append(out, f)
	}
	return out
}
