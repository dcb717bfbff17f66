package mesh

// Incidence lists the corners (numbers 3*f+k) around every vertex: those of
// vertex v are Corners[Start[v]:Start[v+1]], ascending.
type Incidence struct {
	Start   []int32 // len(Vertices)+1
	Corners []int32 // 3*len(Facets)
}

// Incidence returns the corners around every vertex.
func (m *Mesh) Incidence() *Incidence {
	n := len(m.Facets)
	next := make([][]int32, shares(n)) // of a share, by vertex: how many corners it has, then where the next one goes
	inShares(n, len(next), func(share, lo, hi int) {
		count := make([]int32, len(m.Vertices))
		for _, t := range m.Facets[lo:hi] {
			count[t[0]]++
			count[t[1]]++
			count[t[2]]++
		}
		next[share] = count
	})
	in := &Incidence{Start: make([]int32, len(m.Vertices)+1), Corners: make([]int32, 3*n)}
	at := int32(0)
	for v := range m.Vertices {
		for _, s := range next {
			at, s[v] = at+s[v], at
		}
		in.Start[v+1] = at
	}
	inShares(n, len(next), func(share, lo, hi int) {
		next := next[share]
		for f := lo; f < hi; f++ {
			for k, v := range m.Facets[f] {
				in.Corners[next[v]] = int32(3*f + k)
				next[v]++
			}
		}
	})
	return in
}

// Of returns the corners around vertex v.
func (in *Incidence) Of(v int32) []int32 { return in.Corners[in.Start[v]:in.Start[v+1]] }
