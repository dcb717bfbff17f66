package limit

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh/bvh"
	"skinstock/mesh/divide"
	"skinstock/mesh/solid"
)

// What is known of a part holds for its facets in pieces: with it nothing is
// found that would not be found without, and nothing less.
func TestClearInPieces(t *testing.T) {
	m := slot(0.5, 2)
	w := uniform(m, 0.2)
	coarse := mustLimit(t, m, w, Options{MinGap: 0.2})
	require.Contains(t, coarse.Clear.facet, true)
	require.Contains(t, coarse.Clear.facet, false)

	marked := make([]bool, 3*len(m.Facets))
	for h := 0; h < len(marked); h += 7 {
		marked[h] = true
	}
	fine, _, parent := divide.Edges(m, m.Topology(), marked)
	known := mustLimit(t, fine, uniform(fine, 0.2), Options{MinGap: 0.2, Clear: coarse.Clear.InPieces(parent)})
	anew := mustLimit(t, fine, uniform(fine, 0.2), Options{MinGap: 0.2})
	require.Positive(t, anew.Lowered)
	require.Equal(t, anew.Field, known.Field)
	require.Equal(t, anew.Places, known.Places)

	// It says nothing of what lies farther away.
	require.Equal(t, mustLimit(t, m, uniform(m, 0.3), Options{MinGap: 0.2}), mustLimit(t, m, uniform(m, 0.3), Options{MinGap: 0.2, Clear: coarse.Clear}))
}

// Where nothing lies opposite no tree is asked for again.
func TestClearNeedsNoTree(t *testing.T) {
	m := solid.Box(r3.Vector{}, r3.Vector{X: 4, Y: 3, Z: 2})
	first := mustLimit(t, m, uniform(m, 0.2), Options{MinGap: 0.2})
	require.NotContains(t, first.Clear.facet, false)
	again := mustLimit(t, m, uniform(m, 0.1), Options{MinGap: 0.2, Clear: first.Clear, Tree: func() *bvh.Tree { t.Fatal("asked for a tree"); return nil }})
	require.Zero(t, again.Lowered)
	require.Equal(t, uniform(m, 0.1), again.Field)
}
