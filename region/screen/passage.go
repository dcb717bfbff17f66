package screen

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh/bvh/room"
	"skinstock/mesh/finding"
	"skinstock/mesh/queue"
	"skinstock/region"
)

// Passage is skin deep inside the part that is no wall of a known bore or slot:
// a winding or branching channel, the inside of a lattice or shell.
type Passage struct {
	At           r3.Vector // in the void at the deepest place
	WidthMM      float64   // local width there
	MinMM, MaxMM float64   // local widths of the skin beyond the limit, 5 % and 95 % of its area
	WayMM        float64   // length of the way to the bath from the deepest place
	NarrowMM     float64   // narrowest width on that way
	Widths       float64   // the way in local widths
	UnreachedMM2 float64   // skin beyond the limit of reach; +Inf widths where no way was found
}

// node stands for the skin of one cell of space that looks about one way.
type node struct {
	at, n r3.Vector
	area  float64
	width float64 // of the void ahead: diameter of the largest ball that touches the skin there; 0 where it meets nothing
	open  bool
	claim float64 // area that belongs to known holes
	key   [4]int32

	cost, way, narrow float64
	done              bool
	near              []int32
}

// passages looks for skin further from the bath than its limit of reach, in
// local widths along the surface, which is shallow in wide hollows and deep in
// narrow channels, however they wind.
func (p *part) passages(ctx context.Context) ([]Passage, error) {
	nodes, cell, err := p.nodes(ctx)
	if err != nil {
		return nil, err
	}
	if err := p.joinNodes(ctx, nodes, cell); err != nil {
		return nil, err
	}
	measureWays(nodes)
	limit := p.lim.BoreReachDiameters
	deep := func(i int32) bool {
		q := &nodes[i]
		if q.width > 0 && q.width < p.lim.MinGapMM {
			return false // told as a gap
		}
		return !q.open && q.cost > limit && q.claim < 0.5*q.area
	}
	seen := make([]bool, len(nodes))
	var out []Passage
	for i := range nodes {
		if seen[i] || !deep(int32(i)) {
			continue
		}
		list := []int32{int32(i)}
		seen[i] = true
		for k := 0; k < len(list); k++ {
			for _, j := range nodes[list[k]].near {
				if !seen[j] && deep(j) {
					seen[j] = true
					list = append(list, j)
				}
			}
		}
		if q, ok := passageOf(nodes, list, p.lim.BoreMarginalDiameters); ok {
			out = append(out, q)
		}
	}
	slices.SortStableFunc(out, func(a, b Passage) int { return cmp.Compare(b.UnreachedMM2, a.UnreachedMM2) })
	return out, nil
}

// creviceRatio is how much the local width differs within a passage at most:
// in a crevice it falls to nothing.
const creviceRatio = 5

// passageOf sums up nodes that hang together; ok is false for a mere corner and
// where the deepest lies no further than the bath does anything: ways from cell
// to cell are up to a third longer than straight ones.
func passageOf(nodes []node, list []int32, marginal float64) (q Passage, ok bool) {
	deepest := list[0]
	type share struct{ w, a float64 }
	var widths []share
	for _, i := range list {
		n := &nodes[i]
		q.UnreachedMM2 += n.area
		if n.width > 0 {
			widths = append(widths, share{n.width, n.area})
		}
		if n.cost > nodes[deepest].cost && !math.IsInf(n.cost, 1) {
			deepest = i
		}
	}
	if len(widths) == 0 {
		return q, false
	}
	slices.SortFunc(widths, func(a, b share) int { return cmp.Or(cmp.Compare(a.w, b.w), cmp.Compare(a.a, b.a)) })
	var total, sum float64
	for _, s := range widths {
		total += s.a
	}
	q.MinMM = math.Inf(1)
	for _, s := range widths {
		sum += s.a
		if sum >= 0.05*total && math.IsInf(q.MinMM, 1) {
			q.MinMM = s.w
		}
		if sum <= 0.95*total || q.MaxMM == 0 {
			q.MaxMM = s.w
		}
	}
	d := &nodes[deepest]
	q.WidthMM = d.width
	if q.WidthMM == 0 {
		q.WidthMM = q.MinMM
	}
	q.At = d.at.Add(d.n.Mul(q.WidthMM / 2))
	q.WayMM, q.NarrowMM, q.Widths = d.way, min(d.narrow, q.WidthMM), d.cost
	return q, len(list) >= 6 && q.UnreachedMM2 >= 2*q.MinMM*q.MinMM && d.cost > marginal && q.MaxMM < creviceRatio*q.MinMM
}

// nodes gathers the samples by cells and six directions.
func (p *part) nodes(ctx context.Context) ([]node, float64, error) {
	var total float64
	for _, a := range p.area {
		total += a
	}
	cell := 1.5 * math.Sqrt(total/wantedSamples)
	index := map[[4]int32]int32{}
	var nodes []node
	var best []int32  // sample of the largest area
	var met []float64 // area whose ray meets a wall
	for i := range p.samples {
		s := &p.samples[i]
		if p.hollow[s.facet] || p.stray[s.facet] || p.normal[s.facet] == (r3.Vector{}) {
			continue
		}
		n := p.normal[s.facet]
		k := [4]int32{int32(math.Floor((s.at.X - p.lo.X) / cell)), int32(math.Floor((s.at.Y - p.lo.Y) / cell)), int32(math.Floor((s.at.Z - p.lo.Z) / cell)), facesAxis(n)}
		j, ok := index[k]
		if !ok {
			j = int32(len(nodes))
			index[k] = j
			nodes = append(nodes, node{key: k})
			best = append(best, int32(i))
			met = append(met, 0)
		}
		q := &nodes[j]
		q.area += s.area
		if p.claimed[s.facet] {
			q.claim += s.area
		}
		if s.area > p.samples[best[j]].area {
			best[j] = int32(i)
		}
		if s.outFacet >= 0 {
			met[j] += s.area
		}
	}
	gauge := room.New(p.tree, room.Options{Blind: passageBlind, Most: p.diag / 2, Workers: p.opt.Workers})
	err := p.each(ctx, len(nodes), func(i int) {
		q, s := &nodes[i], &p.samples[best[i]]
		q.at, q.n = s.at, p.normal[s.facet]
		if met[i] < 0.5*q.area && p.seesOut(q.at, q.n) {
			q.open = true
			return
		}
		if w := gauge.Front(q.at, q.n).Ball; !math.IsInf(w, 1) {
			q.width = w
		}
	})
	return nodes, cell, err
}

// passageBlind is the angle between walls that count as opposite at least: the
// two of an inside corner do not.
const passageBlind = 100 * s1.Degree

// facesAxis returns which of the six axis directions n is nearest to.
func facesAxis(n r3.Vector) int32 {
	v := [3]float64{n.X, n.Y, n.Z}
	k := 0
	for i := range v {
		if math.Abs(v[i]) > math.Abs(v[k]) {
			k = i
		}
	}
	if v[k] < 0 {
		return int32(k) + 3
	}
	return int32(k)
}

// seesOut tells whether a place, whose way straight ahead is free, sees out of
// the part to most sides too, as the floor of a deep hole does not.
func (p *part) seesOut(at, n r3.Vector) bool {
	u, v := region.Across(n)
	free := 0
	for k := range 6 {
		sin, cos := math.Sincos(2 * math.Pi * (float64(k) + 0.2) / 6)
		d := n.Mul(0.6).Add(u.Mul(0.8 * cos)).Add(v.Mul(0.8 * sin))
		if _, f := p.look(at, d); f < 0 {
			if free++; free == 3 {
				return true
			}
		}
	}
	return false
}

// joinNodes links nodes of neighbouring cells that see each other over the surface.
func (p *part) joinNodes(ctx context.Context, nodes []node, cell float64) error {
	index := make(map[[4]int32]int32, len(nodes))
	for i := range nodes {
		index[nodes[i].key] = int32(i)
	}
	return p.each(ctx, len(nodes), func(i int) {
		a := &nodes[i]
		for dx := int32(-1); dx <= 1; dx++ {
			for dy := int32(-1); dy <= 1; dy++ {
				for dz := int32(-1); dz <= 1; dz++ {
					for f := range int32(6) {
						j, ok := index[[4]int32{a.key[0] + dx, a.key[1] + dy, a.key[2] + dz, f}]
						if !ok || int(j) == i || a.open && nodes[j].open {
							continue
						}
						b := &nodes[j]
						if a.n.Dot(b.n) < -0.5 || a.at.Sub(b.at).Norm() > 2.5*cell {
							continue
						}
						if !p.tree.Blocked(a.lifted(cell), b.lifted(cell)) {
							a.near = append(a.near, j)
						}
					}
				}
			}
		}
	})
}

// lifted is a place a little ahead of the node's surface.
func (q *node) lifted(cell float64) r3.Vector {
	l := 0.3 * cell
	if q.width > 0 {
		l = min(l, 0.3*q.width)
	}
	return q.at.Add(q.n.Mul(l))
}

// measureWays finds the shortest ways to the open, in local widths (E. W.
// Dijkstra, "A note on two problems in connexion with graphs", 1959).
func measureWays(nodes []node) {
	var q queue.Least
	for i := range nodes {
		n := &nodes[i]
		n.cost, n.narrow = math.Inf(1), math.Inf(1)
		if n.open {
			n.cost = 0
			q.Push(0, int32(i))
		}
	}
	for len(q) > 0 {
		a := &nodes[q.Pop().Number]
		if a.done {
			continue
		}
		a.done = true
		for _, j := range a.near {
			b := &nodes[j]
			if b.done {
				continue
			}
			d := b.at.Sub(a.at).Norm()
			width := b.width
			switch {
			case width == 0:
				width = a.narrow // a floor: as wide as the way that leads there
			case a.width > 0:
				width = (a.width + b.width) / 2
			}
			c := a.cost
			if !math.IsInf(width, 1) {
				c += d / width
			}
			if c < b.cost {
				b.cost, b.way = c, a.way+d
				b.narrow = a.narrow
				if b.width > 0 {
					b.narrow = min(a.narrow, b.width)
				}
				q.Push(c, j)
			}
		}
	}
}

func (p *part) passageFindings(ps []Passage) []finding.Finding {
	var out []finding.Finding
	for i := range ps {
		q := &ps[i]
		at := q.At
		f := finding.Finding{Code: "channel_unreached", Severity: finding.Warning, At: &at, SizeMM: q.WidthMM, Count: 1}
		where := fmt.Sprintf("the deepest place lies %.0f mm or %.1f local widths from the bath, through a width of %.2f mm", q.WayMM, q.Widths, q.NarrowMM)
		if math.IsInf(q.Widths, 1) || q.WayMM == 0 {
			where = "no way to the bath was found that is wide enough to follow"
		}
		f.Message = fmt.Sprintf("inner skin of %.0f mm2 in a winding or branching void %.2f to %.2f mm wide lies deeper than the recipe's limit of %.3g widths: %s",
			q.UnreachedMM2, q.MinMM, q.MaxMM, p.lim.BoreReachDiameters, where)
		f.Remedy = "use an inner cathode or forced flow, open the void further, or leave its skin as printed and take its allowance off"
		out = append(out, f)
	}
	return limited(alike(out))
}
