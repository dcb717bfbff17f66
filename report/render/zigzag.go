package render

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// What makes a run of feature edges a zigzag: it turns by more than 40 degrees
// one way and, within a few edges, as much the other way. Facets that lie
// across a fillet meet so; a real edge turns once, or on in the same sense.
const (
	kinkCos   = 0.77
	kinkEdges = 5
)

// withoutZigzags drops the edges between opposite kinks that are nearer to
// each other than the given length, but farther than the finest that shows:
// steps finer than that are a line like any other.
func withoutZigzags(m *mesh.Mesh, edges [][2]int32, fine, near float64) [][2]int32 {
	at := map[int32][]int32{} // edges by vertex; looked up, never ranged over
	for i, e := range edges {
		at[e[0]] = append(at[e[0]], int32(i))
		at[e[1]] = append(at[e[1]], int32(i))
	}
	rough := make([]bool, len(edges))
	for i, e := range edges {
		for k := range e {
			w := zigzagWalk{m: m, edges: edges, at: at, fine: fine, near: near}
			w.from(int32(i), e[k], rough)
		}
	}
	kept := make([][2]int32, 0, len(edges))
	for i, e := range edges {
		if !rough[i] {
			kept = append(kept, e)
		}
	}
	return kept
}

// zigzagWalk follows a chain of edges from one kink to the next.
type zigzagWalk struct {
	m     *mesh.Mesh
	edges [][2]int32
	at    map[int32][]int32
	fine  float64
	near  float64
}

// from walks along edge i towards its vertex v and on, and marks the edges
// between the first kink and an opposite one behind it.
func (w *zigzagWalk) from(i, v int32, rough []bool) {
	turn, next, ok := w.kink(i, v)
	if !ok {
		return
	}
	var path [kinkEdges]int32
	length := 0.0
	for n := range path {
		i, v = next, w.other(next, v)
		path[n] = i
		if length += w.dir(i, v).Norm(); length > w.near {
			return
		}
		back, after, ok := w.kink(i, v)
		if ok {
			if turn.Dot(back) < 0 && length > w.fine {
				for _, e := range path[:n+1] {
					rough[e] = true
				}
			}
			return
		}
		if after < 0 {
			return
		}
		next = after
	}
}

// kink returns how edge i turns at v into the only other edge there, and
// whether it does so sharply; next is that edge, or -1 when there is none or a choice.
func (w *zigzagWalk) kink(i, v int32) (turn r3.Vector, next int32, sharp bool) {
	list := w.at[v]
	if len(list) != 2 {
		return turn, -1, false
	}
	next = list[0] + list[1] - i
	a, b := w.dir(i, v), w.dir(next, w.other(next, v))
	return a.Cross(b), next, a.Dot(b) < kinkCos*a.Norm()*b.Norm()
}

// dir is edge i walked towards its vertex v.
func (w *zigzagWalk) dir(i, v int32) r3.Vector {
	return w.m.Vertices[v].Sub(w.m.Vertices[w.other(i, v)])
}

func (w *zigzagWalk) other(i, v int32) int32 {
	return w.edges[i][0] + w.edges[i][1] - v
}
