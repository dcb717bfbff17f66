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
	joined := make([]int32, n) // the shell with which a shell shares a point, least first
	for s := range joined {
		joined[s] = int32(s)
	}
	first := func(s int32) int32 {
		for joined[s] != s {
			joined[s] = joined[joined[s]]
			s = joined[s]
		}
		return s
	}
	at := make(map[r3.Vector]int32, len(m.Vertices)) // only looked up
	for f, t := range m.Facets {
		for _, v := range t {
			s, ok := at[m.Vertices[v]]
			if !ok {
				at[m.Vertices[v]] = shell[f]
				continue
			}
			if a, b := first(s), first(shell[f]); a != b {
				joined[max(a, b)] = min(a, b)
			}
		}
	}
	for s := range joined {
		if first(int32(s)) == int32(s) {
			count++
		}
	}
	body = shell
	for f, s := range shell {
		body[f] = first(s)
	}
	return body, count
}

// solidBodies counts the bodies of metal: shells inside out, which bound
// cavities, do not count.
func solidBodies(m *mesh.Mesh) int {
	topo := m.Topology()
	body, _ := bodiesOf(m, topo)
	metal := make([]bool, len(m.Facets)) // by body
	n := 0
	for _, s := range m.Shells(topo) {
		if b := body[s.Facets[0]]; s.VolumeMM3 > 0 && !metal[b] {
			metal[b] = true
			n++
		}
	}
	return n
}
