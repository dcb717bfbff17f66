package offset

import (
	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// lifts is the grown surface, before rounding, while its vertices are lifted round by round.
type lifts struct {
	at    []r3.Vector // all vertices
	moved []lifted    // those that ever moved
	slot  []int32     // of each vertex among these, plus one
}

// lifted is where a vertex was, in mm.
type lifted struct {
	vertex       int32
	from, origin r3.Vector // when the round began, and before all rounds
}

// liftsOf takes the vertices over.
func liftsOf(at []r3.Vector) *lifts { return &lifts{at: at, slot: make([]int32, len(at))} }

// begin begins a round.
func (l *lifts) begin() {
	for i := range l.moved {
		l.moved[i].from = l.at[l.moved[i].vertex]
	}
}

// to moves vertex v to p.
func (l *lifts) to(v int32, p r3.Vector) {
	if l.slot[v] == 0 {
		l.moved = append(l.moved, lifted{v, l.at[v], l.at[v]})
		l.slot[v] = int32(len(l.moved))
	}
	l.at[v] = p
}

// from is where vertex v was when the round began.
func (l *lifts) from(v int32) r3.Vector {
	if i := l.slot[v]; i > 0 {
		return l.moved[i-1].from
	}
	return l.at[v]
}

// by is how far vertex v was lifted in this round.
func (l *lifts) by(v int32) r3.Vector { return l.at[v].Sub(l.from(v)) }

// back puts vertex v where it was when the round began.
func (l *lifts) back(v int32) { l.at[v] = l.from(v) }

// rein brings vertices back that were lifted further than most from where they
// started: on a steep facet ever more lift gives ever less stock.
func (l *lifts) rein(most float64) {
	for _, m := range l.moved {
		if d := l.at[m.vertex].Sub(m.origin); d.Norm2() > most*most {
			l.at[m.vertex] = m.origin.Add(d.Normalize().Mul(most))
		}
	}
}

// carry gives all corners of facets that cross the longest lift among them, so
// that the two keep their places to each other.
func (l *lifts) carry(grown *mesh.Mesh, pairs [][2]int32, frozen []bool) {
	for _, p := range pairs {
		var by r3.Vector
		for _, f := range p {
			for _, v := range grown.Facets[f] {
				if d := l.by(v); d.Norm2() > by.Norm2() {
					by = d
				}
			}
		}
		for _, f := range p {
			for _, v := range grown.Facets[f] {
				if !frozen[v] {
					l.to(v, l.from(v).Add(by))
				}
			}
		}
	}
}
