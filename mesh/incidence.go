package mesh

import (
	"runtime"
	"sync"
)

// Incidence lists the corners (numbers 3*f+k) around every vertex: those of
// vertex v are Corners[Start[v]:Start[v+1]], ascending.
type Incidence struct {
	Start   []int32 // len(Vertices)+1
	Corners []int32 // 3*len(Facets)
}

// incidenceShares is into how many shares the facets are divided at most: each
// needs a count for every vertex.
const incidenceShares = 4

// Incidence returns the corners around every vertex.
func (m *Mesh) Incidence() *Incidence {
	shares := make([]incidenceShare, max(1, min(incidenceShares, runtime.GOMAXPROCS(0), len(m.Facets)/Chunk)))
	var all sync.WaitGroup
	each := func(do func(s *incidenceShare)) {
		for i := range shares[1:] {
			all.Go(func() { do(&shares[i+1]) })
		}
		do(&shares[0])
		all.Wait()
	}
	for i := range shares {
		shares[i].lo, shares[i].hi = i*len(m.Facets)/len(shares), (i+1)*len(m.Facets)/len(shares)
	}
	each(func(s *incidenceShare) { s.count(m) })

	in := &Incidence{Start: make([]int32, len(m.Vertices)+1), Corners: make([]int32, 3*len(m.Facets))}
	at := int32(0)
	for v := range m.Vertices {
		for i := range shares {
			at, shares[i].next[v] = at+shares[i].next[v], at
		}
		in.Start[v+1] = at
	}
	each(func(s *incidenceShare) { s.place(m, in) })
	return in
}

// incidenceShare is a run of facets, lo to hi.
type incidenceShare struct {
	lo, hi int
	next   []int32 // by vertex: the corners in the run, then where the next of them goes
}

func (s *incidenceShare) count(m *Mesh) {
	s.next = make([]int32, len(m.Vertices))
	for _, t := range m.Facets[s.lo:s.hi] {
		s.next[t[0]]++
		s.next[t[1]]++
		s.next[t[2]]++
	}
}

func (s *incidenceShare) place(m *Mesh, in *Incidence) {
	for f := s.lo; f < s.hi; f++ {
		for k, v := range m.Facets[f] {
			in.Corners[s.next[v]] = int32(3*f + k)
			s.next[v]++
		}
	}
}

// Of returns the corners around vertex v.
func (in *Incidence) Of(v int32) []int32 { return in.Corners[in.Start[v]:in.Start[v+1]] }
