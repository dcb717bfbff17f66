package verify

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

// ring10k returns a ring of 10,000 facets and the same grown so that every
// facet stands off by 0.2 mm and a little more.
func ring10k() (n, g *mesh.Mesh) {
	const nu, nv = 100, 50
	over := 0.2 / math.Cos(math.Pi/nv) / math.Cos(math.Pi/nu)
	return solid.Torus(30, 10, nu, nv), solid.Torus(30, 10+over, nu, nv)
}

// By default one vertex, or a pit of 2 um across, that stands 5 um nearer than
// it should is found wherever it lies.
func TestSmallDentsAreFoundByDefault(t *testing.T) {
	const deep = 0.005
	n, g := ring10k()
	w := uniform(n, 0.2)
	if p := mustVerify(t, n, g, w, Options{}); !p.Within() {
		t.Fatalf("the ring is short before it is dented: %+v, %+v", p.All.Shortfall.Max, p.GrownShortfall)
	}
	dented := func(what string, bad *mesh.Mesh, at r3.Vector) {
		t.Helper()
		p := mustVerify(t, n, bad, w, Options{})
		// Beside the vertex its edges come up to a tenth nearer still to ridges of the part.
		near(t, what+": depth", p.GrownShortfall.Value, 1.05*deep, 0.05*deep+Resolution)
		// Over an edge of the part the lowest place lies beside the vertex, within a tenth of the shortest edges.
		near(t, what+": place", p.GrownShortfall.At.Distance(at), 0, 0.12)
		if p.Within() || p.PlaceCount == 0 {
			t.Errorf("%s: within tolerance, %d places", what, p.PlaceCount)
		}
	}
	tree := watching(t, n, g, w)
	for v := 7; v < len(g.Vertices); v += 999 {
		bad := g.WithVertices(append([]r3.Vector(nil), g.Vertices...))
		bad.Vertices[v] = tree.at(g.Vertices[v], 0.2-deep)
		dented("a vertex", bad, bad.Vertices[v])
	}
	for f := 3; f < len(g.Facets); f += 1999 {
		const wide = 0.002
		bad := g.WithVertices(append([]r3.Vector(nil), g.Vertices...))
		bad.Facets = append([][3]int32(nil), g.Facets...)
		c, k := g.Facets[f], int32(len(g.Vertices))
		p := g.Corner(f, 0).Mul(0.6).Add(g.Corner(f, 1).Mul(0.3)).Add(g.Corner(f, 2).Mul(0.1)) // beside the samples of the facet
		for i := range 3 {
			bad.Vertices = append(bad.Vertices, p.Add(g.Corner(f, i).Sub(p).Normalize().Mul(wide/2)))
		}
		pit := tree.at(p, 0.2-deep)
		bad.Vertices = append(bad.Vertices, pit)
		bad.Facets[f] = [3]int32{k, k + 1, k + 3}
		for i := range int32(3) {
			j := (i + 1) % 3
			bad.Facets = append(bad.Facets, [3]int32{c[i], c[j], k + i}, [3]int32{c[j], k + j, k + i})
			if i > 0 {
				bad.Facets = append(bad.Facets, [3]int32{k + i, k + j, k + 3})
			}
		}
		dented("a pit of 2 um", bad, pit)
	}
}

// watched finds places over a nominal surface.
type watched struct{ w *Watch }

func watching(t *testing.T, n, g *mesh.Mesh, wanted mesh.CornerField) watched {
	t.Helper()
	w, err := Start(t.Context(), n, g, wanted, Options{OneWay: true})
	if err != nil {
		t.Fatal(err)
	}
	return watched{w}
}

// at returns the place that stands as far from the nominal surface as given, below y.
func (w watched) at(y r3.Vector, off float64) r3.Vector {
	h := w.w.r.nominalTree().Closest(y, -1)
	return h.Point.Add(y.Sub(h.Point).Normalize().Mul(off))
}
