package region

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl/stltest"
)

func at(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }

func keep(t testing.TB, m *mesh.Mesh, zones ...Zone) *Kept {
	t.Helper()
	k, err := Keep(m, m.Topology(), bvh.New(m, 0), zones)
	require.NoError(t, err)
	return k
}

// A tube knows its bore and its ends.
func TestPicksOnTube(t *testing.T) {
	const n = 48
	m := solid.Tube(5, 3, 20, n)
	k := keep(
		t, m,
		Zone{Name: "seat", Shape: BoreNear{at(0, 0, 10)}},
		Zone{Shape: PlaneNear{at(4, 0, 20.5)}, StockMM: 0.5},
	)
	bore := k.Zones[0].Bore
	require.NotNil(t, bore)
	require.InDelta(t, 6, bore.DiameterMM, 1e-9)
	require.InDelta(t, 20, bore.LengthMM, 1e-9)
	require.InDelta(t, 0, bore.Middle.Distance(at(0, 0, 10)), 1e-9)
	require.InDelta(t, 0, bore.Axis.Distance(at(0, 0, 1)), 1e-9)
	require.InDelta(t, 0, bore.RoundnessMM, 1e-9)
	require.InDelta(t, 360, bore.CoverDegrees, 1e-9)
	require.False(t, bore.Shaft)
	require.Equal(t, 2*n, k.Zones[0].Facets)
	require.InDelta(t, 2*n*3*math.Sin(math.Pi/n)*20, k.Zones[0].AreaMM2, 1e-9)

	plane := k.Zones[1].Plane
	require.NotNil(t, plane)
	require.InDelta(t, 0, plane.Normal.Distance(at(0, 0, 1)), 1e-12)
	require.InDelta(t, 20, plane.Point.Z, 1e-12)
	require.InDelta(t, 0, plane.FlatnessMM, 1e-12)

	a, masked := k.Allowance(make([]float64, len(m.Facets))), k.Masked()
	for f := range m.Facets {
		require.Equal(t, k.Zone[f] == 0, masked[f])
		if k.Zone[f] == 1 {
			require.Equal(t, 0.5, a[f])
			require.InDelta(t, 1, m.FacetNormal(f).Z, 1e-12)
		}
	}
}

// A bore is picked from up to a diameter beyond either end, as a point read off a
// drawing may lie; further off none is near.
func TestBoreIsPickedFromItsEndsOnly(t *testing.T) {
	m := solid.Tube(5, 3, 20, 24)
	for _, end := range []struct{ z, out float64 }{{0, -1}, {20, 1}} {
		k := keep(t, m, Zone{Shape: BoreNear{at(0, 0, end.z+5.9*end.out)}})
		require.InDelta(t, 6, k.Zones[0].Bore.DiameterMM, 1e-9)
		_, err := Keep(m, m.Topology(), bvh.New(m, 0), []Zone{{Shape: BoreNear{at(0, 0, end.z+6.1*end.out)}}})
		require.ErrorIs(t, err, ErrNoFeature, "%g mm beyond the end at %g", 6.1, end.z)
	}
}

// A bore is picked at the middle of its mouth and beyond it, however many facets its
// flat rim has that are as near.
func TestBoreIsPickedAtItsMouth(t *testing.T) {
	for _, sides := range []int{24, 32, 64, 128, 512} {
		m := solid.Tube(5, 3, 20, sides)
		for _, z := range []float64{0, -0.5, -2, -5.9} {
			k := keep(t, m, Zone{Shape: BoreNear{at(0, 0, z)}})
			require.InDelta(t, 6, k.Zones[0].Bore.DiameterMM, 1e-9, "%d sides, z %g", sides, z)
		}
	}
}

// Bodies take facets that lie in them whole.
func TestBodiesTakeWholeFacets(t *testing.T) {
	m := solid.Box(at(0, 0, 0), at(20, 10, 5))
	for _, s := range []Shape{
		Box{at(-1, -1, 4.9), at(21, 11, 6)},
		Cylinder{at(10, 5, 5), at(0, 0, 2), 23, 1},
		HalfSpace{at(0, 0, 5), at(0, 0, 3)},
		&Body{File: "lid.stl", Mesh: solid.Box(at(-1, -1, 4), at(21, 11, 6))},
		PlaneNear{at(10, 5, 7)},
	} {
		k := keep(t, m, Zone{Shape: s})
		require.InDelta(t, 200, k.Zones[0].AreaMM2, 1e-9, "%s", s)
		for f := range m.Facets {
			require.Equal(t, m.FacetNormal(f).Z > 0.5, k.Zone[f] == 0, "%s", s)
		}
		require.NotNil(t, k.Zones[0].Plane, "%s", s)
	}
	// All corners of a box lie on a cylinder, which its faces do not follow.
	all := keep(t, m, Zone{Shape: Ball{at(10, 5, 2.5), 30}})
	require.Equal(t, 12, all.Zones[0].Facets)
	require.Nil(t, all.Zones[0].Plane)
	require.Nil(t, all.Zones[0].Bore)
}

func TestZoneThatTouchesNothing(t *testing.T) {
	m := solid.Box(at(0, 0, 0), at(20, 10, 5))
	box := Zone{Shape: Box{at(-1, -1, 4.9), at(21, 11, 6)}}
	for name, zones := range map[string][]Zone{
		"far away":     {{Shape: Ball{at(100, 0, 0), 10}}},
		"no facet fit": {{Shape: Ball{at(0, 0, 0), 1}}},
		"taken before": {box, box},
	} {
		_, err := Keep(m, m.Topology(), bvh.New(m, 0), zones)
		require.ErrorIs(t, err, ErrZoneEmpty, name)
	}
	_, err := Keep(m, m.Topology(), bvh.New(m, 0), []Zone{{Shape: BoreNear{at(10, 5, 5)}}})
	require.ErrorIs(t, err, ErrNoFeature)
	open := solid.Box(at(0, 0, 0), at(1, 1, 1))
	open.Facets = open.Facets[1:]
	_, err = Keep(m, m.Topology(), bvh.New(m, 0), []Zone{{Shape: &Body{Mesh: open}}})
	require.ErrorContains(t, err, "not closed")
}

// The demo part comes off a voxel grid; its bores are round to the mesher's accuracy.
func TestPicksOnVoxelBornPart(t *testing.T) {
	m := solid.LanderBracket(1.29)
	k := keep(
		t, m,
		Zone{Shape: BoreNear{at(-30, 0, 10)}}, Zone{Shape: BoreNear{at(30, 0, 10)}}, Zone{Shape: BoreNear{at(0, 0, 54)}},
	)
	for i, want := range []struct {
		middle   r3.Vector
		diameter float64
	}{{at(-30, 0, 10), 10}, {at(30, 0, 10), 10}, {at(0, 0, 54), 8}} {
		b := k.Zones[i].Bore
		// Corners are at 1e-6 of a cell; rims that stand out are left out of the fit.
		require.InDelta(t, want.diameter, b.DiameterMM, 1e-3)
		require.InDelta(t, 1, b.Axis.Y, 1e-6)
		w := b.Middle.Sub(want.middle)
		require.InDelta(t, 0, math.Hypot(w.X, w.Z), 1e-3)
		require.Greater(t, b.CoverDegrees, 355.0)
		// Most of the wall is there; the mesher chamfers the rims.
		require.Greater(t, k.Zones[i].AreaMM2, 0.8*math.Pi*want.diameter*b.LengthMM)
	}

	block, rod := solid.Block(at(0, 0, 0), at(20, 10, 12)), solid.Rod(at(10, -1, 6), at(10, 11, 6), 3)
	drilled := func(p r3.Vector) float64 { return max(block(p), -rod(p)) }
	m = solid.Implicit(drilled, at(-1, -1, -1), at(21, 11, 13), 0.87)
	k = keep(t, m, Zone{Shape: BoreNear{at(10, 5, 6)}}, Zone{Shape: PlaneNear{at(3, -0.01, 3)}})
	require.InDelta(t, 6, k.Zones[0].Bore.DiameterMM, 1e-3)
	p := k.Zones[1]
	require.InDelta(t, 0, p.Plane.Normal.Distance(at(0, -1, 0)), 1e-4)
	require.InDelta(t, 0, p.Plane.Point.Y, 1e-3)
	require.LessOrEqual(t, p.Plane.FlatnessMM, mostFlatness)
	// The face less the mouth of the bore, and less what the mesher chamfers at their edges: up to a cell.
	require.InDelta(t, 240-9*math.Pi, p.AreaMM2, 0.87*(64+6*math.Pi))
}

// A real CAD plate: a screw hole of 0.266 inch with a counterbore of 7/16
// inch; its other four holes are slots, which are no bores.
func TestPicksOnRealPlate(t *testing.T) {
	m := stltest.Shared(t, "plate-holes.stl")
	p := newPicker(m, m.Topology())
	found := map[float64]r3.Vector{}
	for f := range m.Facets {
		if math.Abs(m.FacetNormal(f).Z) > 0.5 || p.thin(int32(f)) {
			continue
		}
		if _, fit, err := p.roundFrom(int32(f)); err == nil && !fit.Shaft && fit.CoverDegrees >= leastCover {
			require.InDelta(t, 0, fit.RoundnessMM, 1e-4)
			require.Less(t, fit.Axis.Cross(at(0, 0, 1)).Norm(), 1e-5)
			found[math.Round(fit.DiameterMM*1e3)/1e3] = fit.Middle
		}
	}
	require.Len(t, found, 2)
	require.InDelta(t, 0, found[6.756].Distance(at(101.6, 154.4807, 3.175)), 1e-3)
	require.InDelta(t, 0, found[11.113].Distance(at(101.6, 154.4807, 9.525)), 1e-3)
}

func TestFitsRecoverTurnedSurfaces(t *testing.T) {
	rot, shift := solid.Rotation{Axis: at(1, 2, 3), Angle: 1.1}, at(7, -3, 100)
	m := solid.Move(solid.Tube(5, 3, 20, 48), rot, shift)
	mid := rot.Apply(at(0, 0, 10)).Add(shift)
	k := keep(t, m, Zone{Shape: BoreNear{mid}})
	b := k.Zones[0].Bore
	require.InDelta(t, 6, b.DiameterMM, 1e-8)
	require.InDelta(t, 0, b.Middle.Distance(mid), 1e-8)
	require.InDelta(t, 0, b.Axis.Cross(rot.Apply(at(0, 0, 1))).Norm(), 1e-9)
	// A quarter of the wall is enough for the fit, though not for a pick.
	back := solid.Rotation{Axis: rot.Axis, Angle: -rot.Angle}
	var quarter []int32
	for f := range m.Facets {
		x, y, z := m.Triangle(f)
		c := back.Apply(x.Add(y).Add(z).Mul(1.0 / 3).Sub(shift))
		if k.Zone[f] == 0 && c.X > 0 && c.Y > 0 {
			quarter = append(quarter, int32(f))
		}
	}
	q, err := FitBore(m, quarter)
	require.NoError(t, err)
	require.InDelta(t, 6, q.DiameterMM, 1e-7)
	require.InDelta(t, 90, q.CoverDegrees, 10)
}

// Moving, resizing, tilting or losing a kept face is told by how much.
func TestCheckDatumsTellsChanges(t *testing.T) {
	m := solid.Tube(5, 3, 20, 48)
	k := keep(t, m, Zone{Name: "seat", Shape: BoreNear{at(0, 0, 10)}}, Zone{Name: "end", Shape: PlaneNear{at(4, 0, 20)}})
	check := func(grown *mesh.Mesh, facetOf []int32) (seat, end Datum) {
		d, err := CheckDatums(m, grown, facetOf, true, k)
		require.NoError(t, err)
		require.Len(t, d, 2)
		return d[0], d[1]
	}
	seat, end := check(m.Clone(), nil)
	require.True(t, seat.Unchanged && end.Unchanged)
	require.Equal(t, "seat: unchanged within 1 um", seat.String())

	seat, end = check(solid.Map(m, func(p r3.Vector) r3.Vector { return at(1.001*p.X+0.02, 1.001*p.Y, p.Z+0.004) }), nil)
	require.False(t, seat.Unchanged || end.Unchanged)
	require.InDelta(t, 0.006, seat.LargerMM, 1e-8)
	require.InDelta(t, 0.02, seat.ShiftMM, 1e-8)
	require.InDelta(t, 0.004, end.ShiftMM, 1e-12)
	require.Contains(t, seat.String(), "seat: shifted 0.0200 mm")

	seat, end = check(solid.Move(m, solid.Rotation{Axis: at(1, 0, 0), Angle: 0.001}, r3.Vector{}), nil)
	require.InDelta(t, 0.001, seat.Tilt.Radians(), 1e-9)
	require.InDelta(t, 0.001, end.Tilt.Radians(), 1e-9)
	require.False(t, seat.Unchanged || end.Unchanged)

	part, facetOf := &mesh.Mesh{Vertices: m.Vertices}, []int32(nil)
	for f, c := range m.Facets {
		if f%7 != 0 {
			part.Facets = append(part.Facets, c)
			facetOf = append(facetOf, int32(f))
		}
	}
	seat, _ = check(part, facetOf)
	require.False(t, seat.Unchanged)
	require.Positive(t, seat.Missing)
}
