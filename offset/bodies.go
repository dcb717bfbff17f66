package offset

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// bodiesOf numbers what hangs together: shells that share a point are one
// body. It returns the number of each facet's body and how many there are.
// A cavity's shell is a body of its own here.
func bodiesOf(m *mesh.Mesh, topo *mesh.Topology) (body []int32, count int) {
	shell, n := m.ShellLabels(topo)
	if n == 1 {
		return shell, 1
	}
	joined := joinedShells(m, shell, n)
	for s, j := range joined {
		if int32(s) == j {
			count++
		}
	}
	body = shell
	for f, s := range shell {
		body[f] = joined[s]
	}
	return body, count
}

// joinedShells returns for every shell the first of those that it hangs
// together with by shared points; shell numbers the shells of the facets.
func joinedShells(m *mesh.Mesh, shell []int32, n int) []int32 {
	joined := make([]int32, n)
	size := make([]int, n)
	for s := range joined {
		joined[s] = int32(s)
	}
	for _, s := range shell {
		size[s]++
	}
	first := func(s int32) int32 {
		for joined[s] != s {
			joined[s] = joined[joined[s]]
			s = joined[s]
		}
		return s
	}
	largest := int32(0)
	for s, k := range size {
		if k > size[largest] {
			largest = int32(s)
		}
	}
	join := func(s, t int32) {
		a, b := first(s), first(t)
		joined[max(a, b)] = min(a, b)
	}
	// The points of the largest shell are only looked up among those of the others.
	at := make(map[r3.Vector]int32)
	ask := make([]bool, len(m.Vertices))
	for f, s := range shell {
		for _, v := range m.Facets[f] {
			if s == largest {
				ask[v] = true
			} else if o, ok := at[m.Vertices[v]]; ok {
				join(o, s)
			} else {
				at[m.Vertices[v]] = s
			}
		}
	}
	met := make([][]int32, (len(ask)+mesh.Chunk-1)/mesh.Chunk)
	mesh.InChunks(len(ask), 0, func(lo, hi int) {
		for v := lo; v < hi; v++ {
			if !ask[v] {
				continue
			}
			if s, ok := at[m.Vertices[v]]; ok {
				met[lo/mesh.Chunk] = append(met[lo/mesh.Chunk], s)
			}
		}
	})
	for _, shells := range met {
		for _, s := range shells {
			join(s, largest)
		}
	}
	for s := range joined {
		joined[s] = first(int32(s))
	}
	return joined
}

// bodies returns the number of bodies of metal in Nominal.
func (r *Result) bodies() int {
	if r.metal == 0 {
		r.metal = solidBodies(r.Nominal, r.Topo)
	}
	return r.metal
}

// solidBodies counts the bodies of metal: shells inside out, which bound
// cavities, do not count.
func solidBodies(m *mesh.Mesh, topo *mesh.Topology) int {
	shell, n := m.ShellLabels(topo)
	joined := joinedShells(m, shell, n)
	metal := make([]bool, n)
	bodies := 0
	for s, v := range m.ShellVolumes(shell, n) {
		if b := joined[s]; v > 0 && !metal[b] {
			metal[b] = true
			bodies++
		}
	}
	return bodies
}
