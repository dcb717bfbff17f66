package grow

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
	"skinstock/region"
)

// keptPart grows m with zones and returns the grown mesh, the zones and the growth.
func keptPart(t *testing.T, m *mesh.Mesh, allowance, slope float64, zones ...region.Zone) (*mesh.Mesh, *region.Kept, *Result) {
	t.Helper()
	topo := m.Topology()
	k, err := region.Keep(m, topo, bvh.New(m, 0), zones)
	require.NoError(t, err)
	r, err := Grow(context.Background(), m, topo, k.Allowance(filled(m, allowance)), Options{MaxSlope: slope, Keep: k.Masked(), Held: k.Held})
	require.NoError(t, err)
	g := m.WithVertices(r.Vertices)
	g.RoundToFloat32() // what is written counts
	return g, k, r
}

// requireKept requires that every datum is unchanged, and that what lies
// further from masked facets than the blend has its full allowance.
func requireKept(t *testing.T, m, g *mesh.Mesh, k *region.Kept, r *Result, allowance, slope float64) {
	t.Helper()
	d, err := region.CheckDatums(m, g, nil, true, k)
	require.NoError(t, err)
	require.Len(t, d, len(k.Zones))
	for _, x := range d {
		require.True(t, x.Unchanged, "%s; lift %g", x.String(), x.LiftMM)
	}
	kept := &mesh.Mesh{Vertices: m.Vertices}
	for f, masked := range k.Masked() {
		if masked {
			kept.Facets = append(kept.Facets, m.Facets[f])
		}
	}
	tree, hint, full, blended := bvh.New(kept, 0), bvh.NoHint, 0.0, 0.0
	for f, masked := range k.Masked() {
		if masked {
			require.Equal(t, [3]float64{}, r.Allowance[f])
			continue
		}
		for c := range 3 {
			h := tree.Closest(m.Corner(f, c), hint)
			hint = h.Facet
			// Fronts bend inside facets: two hundredths more than the straight blend.
			if h.Dist > 1.02*allowance/slope {
				require.Equal(t, allowance, r.Allowance[f][c])
			}
		}
		if r.Allowance[f] == [3]float64{allowance, allowance, allowance} {
			full += m.FacetArea(f)
		} else {
			blended += m.FacetArea(f)
		}
	}
	require.Greater(t, full, 4*blended)
}

// Two bores and a face of a CAD-like part, whose rims are sharp: the kept
// faces stay, their neighbours carry the full allowance up to the rim.
func TestKeptBoresAndFace(t *testing.T) {
	left := solid.Tube(6, 3, 10, 64)
	right := solid.Shift(solid.Tube(8, 5, 10, 96), v(30, 0, 0))
	block := solid.Shift(solid.Box(v(0, 0, 0), v(20, 20, 10)), v(5, 20, 0))
	m := solid.Merge(left, right, block)
	g, k, r := keptPart(
		t, m, 0.2, 0.2,
		region.Zone{Name: "pin", Shape: region.BoreNear{Point: v(0, 0, 5)}},
		region.Zone{Name: "bearing", Shape: region.BoreNear{Point: v(30, 0, 5)}},
		region.Zone{Name: "flange", Shape: region.PlaneNear{Point: v(15, 30, 10)}},
	)
	require.Empty(t, r.Needles)
	requireKept(t, m, g, k, r, 0.2, 0.2)
	for f := range m.Facets {
		if k.Zone[f] == region.NoZone {
			require.Equal(t, [3]float64{0.2, 0.2, 0.2}, r.Allowance[f], "nothing blends across a sharp rim")
		}
	}
	// The pin's ends move out by 0.2 each, its bore keeps its size: 64-gons of radius 6 + 0.2/cos and 3.
	area := func(r float64) float64 { return 32 * r * r * math.Sin(2*math.Pi/64) }
	pin := &mesh.Mesh{Vertices: g.Vertices, Facets: g.Facets[:len(left.Facets)]}
	want := (area(6+0.2/math.Cos(math.Pi/64)) - area(3)) * 10.4
	require.InEpsilon(t, want, pin.Volume(), 1e-6) // single precision
}

// The same on the voxel-born demo part: rims chamfered by the mesher, slivers, smooth borders.
func TestKeptBoresOfVoxelBornPart(t *testing.T) {
	m := solid.LanderBracket(0.91)
	m.RoundToFloat32()
	const slope = 0.2
	g, k, r := keptPart(
		t, m, 0.2, slope,
		region.Zone{Name: "left", Shape: region.BoreNear{Point: v(-30, 0, 10)}},
		region.Zone{Name: "right", Shape: region.BoreNear{Point: v(30, 0, 10)}},
		region.Zone{Name: "eye", Shape: region.BoreNear{Point: v(0, 0, 54)}},
	)
	requireKept(t, m, g, k, r, 0.2, slope)
	t.Log(len(r.Needles), "held back;", crossings(t, g), "crossings")
}

// A stock zone carries its own allowance, and its neighbours fall from it with the slope.
func TestStockZone(t *testing.T) {
	m := finePlate()
	g, k, r := keptPart(t, m, 0.1, 0.1, region.Zone{Shape: region.Cylinder{Middle: v(0, 0, 2), Axis: v(0, 0, 1), Diameter: 6, Length: 1}, StockMM: 0.5})
	_, hi := g.Bounds()
	require.InDelta(t, 2.5, hi.Z, 1e-6)
	top := func(f int) bool { return m.FacetNormal(f).Z > 0.5 }
	for f := range m.Facets {
		for c, a := range r.Allowance[f] {
			p := m.Corner(f, c)
			switch d := math.Hypot(p.X, p.Y); {
			case k.Zone[f] == 0:
				require.Equal(t, 0.5, a)
			case top(f):
				require.LessOrEqual(t, a, max(0.1, 0.5-0.1*(d-3))+0.01)
			}
		}
	}
	masked := k.Masked()
	for f := range masked {
		require.False(t, masked[f])
	}
	d, err := region.CheckDatums(m, g, nil, true, k)
	require.NoError(t, err)
	require.Empty(t, d, "stock is no datum: it is there to be machined off")
}
