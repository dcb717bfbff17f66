package screen_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// turned returns the solid that the profile (r, z), counter-clockwise and on the axis
// at both ends, makes when it turns about z in n steps.
func turned(n int, profile ...[2]float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	ring := make([][]int32, len(profile))
	for i, q := range profile {
		if q[0] == 0 {
			ring[i] = slices.Repeat([]int32{int32(len(m.Vertices))}, n)
			m.Vertices = append(m.Vertices, r3.Vector{Z: q[1]})
			continue
		}
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			ring[i] = append(ring[i], int32(len(m.Vertices)))
			m.Vertices = append(m.Vertices, r3.Vector{X: q[0] * c, Y: q[0] * s, Z: q[1]})
		}
	}
	for i := 0; i+1 < len(profile); i++ {
		for k := range n {
			l := (k + 1) % n
			a, b, c, d := ring[i][k], ring[i][l], ring[i+1][l], ring[i+1][k]
			if a != b {
				m.Facets = append(m.Facets, [3]int32{a, b, c})
			}
			if c != d {
				m.Facets = append(m.Facets, [3]int32{a, c, d})
			}
		}
	}
	return m
}

// blindPart is a cylinder with a blind hole of radius r and the given depth in its top.
func blindPart(r, depth float64) *mesh.Mesh {
	return turned(64, [2]float64{0, 0}, [2]float64{12, 0}, [2]float64{12, 24}, [2]float64{r, 24}, [2]float64{r, 24 - depth}, [2]float64{0, 24 - depth})
}

func reversed(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
	for _, f := range m.Facets {
		out.Facets = append(out.Facets, [3]int32{f[0], f[2], f[1]})
	}
	return out
}

func look(t *testing.T, m *mesh.Mesh, opt screen.Options) *screen.Report {
	t.Helper()
	rep, err := screen.Screen(context.Background(), m, nil, nil, opt)
	require.NoError(t, err)
	return rep
}

func codes(fs []finding.Finding) map[string]finding.Severity {
	out := map[string]finding.Severity{}
	for _, f := range fs {
		out[f.Code] = max(out[f.Code], f.Severity)
	}
	return out
}

func TestThroughBore(t *testing.T) {
	rep := look(t, solid.Tube(10, 3, 20, 64), screen.Options{})
	require.Len(t, rep.Bores, 1)
	b := rep.Bores[0]
	assert.InEpsilon(t, 6, b.DiameterMM, 0.01)
	assert.InEpsilon(t, 20, b.DepthMM, 0.02)
	assert.Equal(t, 2, b.OpenEnds)
	assert.InDelta(t, 1, math.Abs(b.Axis.Z), 1e-4)
	// One diameter from each end by the rule; ln(1/0.15)/(2 x 2.404826)
	// diameters from each end by the primary field: the first zero of J0.
	assert.InEpsilon(t, 12, b.Reach.LimitMM, 0.02)
	assert.InEpsilon(t, 2*6*math.Log(1/0.15)/(2*2.404825557695773), b.Reach.FieldMM, 0.02)
	assert.InEpsilon(t, 8, b.Reach.UnreachedMM, 0.03)
	assert.InEpsilon(t, math.Pi*6*8, b.Reach.UnreachedMM2, 0.03)
	assert.Contains(t, codes(rep.Findings), "bore_unreached")
}

func TestBlindBores(t *testing.T) {
	for _, c := range []struct{ r, depth float64 }{{2, 2}, {2, 8}, {3, 18}, {5, 10}} {
		rep := look(t, blindPart(c.r, c.depth), screen.Options{})
		require.Len(t, rep.Bores, 1, "radius %g, depth %g", c.r, c.depth)
		b := rep.Bores[0]
		assert.InEpsilon(t, 2*c.r, b.DiameterMM, 0.01)
		assert.InEpsilon(t, c.depth, b.DepthMM, 0.02)
		assert.Equal(t, 1, b.OpenEnds)
		assert.InDelta(t, max(c.depth-2*c.r, 0), b.Reach.UnreachedMM, 0.02*c.depth)
	}
}

func TestPlainBodiesHaveNoBores(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{
		"box": solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 20, Z: 30}), "ball": solid.Icosphere(10, 3), "rod": solid.Cylinder(5, 20, 48),
	} {
		assert.Empty(t, look(t, m, screen.Options{}).Bores, name)
	}
}

func TestBoxEdges(t *testing.T) {
	rep := look(t, solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 20, Z: 30}), screen.Options{})
	assert.InDelta(t, 4*(10+20+30), rep.SharpEdges.LengthMM, 1e-9)
	assert.Equal(t, 12, rep.SharpEdges.Count)
	assert.InDelta(t, 90, rep.SharpEdges.SharpestDeg, 1e-9)
	assert.Zero(t, rep.Corners.LengthMM)
	assert.Equal(t, screen.Suited, rep.Verdict)
	assert.Equal(t, screen.WithChange, look(t, solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 20, Z: 30}), screen.Options{Purpose: screen.Size}).Verdict)
}

func TestKnownErrorsDecide(t *testing.T) {
	known := []finding.Finding{{Code: "over_current", Severity: finding.Error}, {Code: "assumed_value", Severity: finding.Warning}}
	rep := look(t, solid.Box(r3.Vector{}, r3.Vector{X: 10, Y: 20, Z: 30}), screen.Options{Known: known})
	assert.Equal(t, screen.NotSuited, rep.Verdict)
	require.Len(t, rep.Reasons, 1)
	assert.Equal(t, "over_current", rep.Reasons[0].Code)
}

func TestInsideCorner(t *testing.T) {
	rep := look(t, blindPart(3, 9), screen.Options{})
	// The floor's rim, a regular polygon of 64 sides.
	assert.InDelta(t, 64*2*3*math.Sin(math.Pi/64), rep.Corners.LengthMM, 1e-6)
	assert.Equal(t, 1, rep.Corners.Count)
}

func TestWallGauge(t *testing.T) {
	for _, w := range []float64{0.2, 0.5, 1, 3} {
		rep := look(t, solid.Box(r3.Vector{}, r3.Vector{X: w, Y: 20, Z: 20}), screen.Options{})
		assert.InEpsilon(t, w, rep.Wall.Min, 0.01)
		sev, thin := codes(rep.Findings)["thin_wall"]
		assert.Equal(t, w < 0.4, thin, "%g mm", w)
		if thin {
			assert.Equal(t, finding.Error, sev)
			assert.Equal(t, screen.NotSuited, rep.Verdict)
		}
	}
}

func TestClosingGap(t *testing.T) {
	box := func(x float64) *mesh.Mesh { return solid.Box(r3.Vector{X: x}, r3.Vector{X: x + 10, Y: 20, Z: 20}) }
	m := solid.Merge(box(0), box(10.4))
	grow := make(mesh.CornerField, len(m.Facets))
	for f := range grow {
		grow[f] = [3]float64{0.15, 0.15, 0.15}
	}
	rep := look(t, m, screen.Options{AllowanceMM: grow})
	assert.InDelta(t, 0.4, rep.Gap.Min, 1e-6)
	assert.Equal(t, finding.Warning, codes(rep.Findings)["closing_gap"]) // 0.4 - 2 x 0.15 = 0.1 left
	for f := range grow {
		grow[f] = [3]float64{0.25, 0.25, 0.25}
	}
	rep = look(t, m, screen.Options{AllowanceMM: grow})
	assert.Equal(t, finding.Error, codes(rep.Findings)["closing_gap"])
}

func TestCavitiesAndStrays(t *testing.T) {
	outer := solid.Box(r3.Vector{X: -20, Y: -20, Z: -20}, r3.Vector{X: 20, Y: 20, Z: 20})
	void := solid.Box(r3.Vector{X: -5, Y: -5, Z: -5}, r3.Vector{X: 5, Y: 5, Z: 5})
	rep := look(t, solid.Merge(outer, reversed(void), solid.Icosphere(2, 2)), screen.Options{})
	require.Len(t, rep.Cavities, 1)
	assert.Equal(t, 1, rep.Cavities[0].Loose)
	assert.InDelta(t, 1000-solid.Icosphere(2, 2).Volume(), rep.Cavities[0].VolumeMM3, 1e-6)
	assert.Empty(t, rep.Strays)
	assert.Equal(t, screen.NotSuited, rep.Verdict)

	rep = look(t, solid.Merge(outer, void), screen.Options{})
	assert.Empty(t, rep.Cavities)
	require.Len(t, rep.Strays, 1)
	assert.Equal(t, screen.Nested, rep.Strays[0].Kind)
}

func TestWorkersAgree(t *testing.T) {
	slotted := cut(t, solid.Box(r3.Vector{X: -15, Y: -10, Z: -10}, r3.Vector{X: 15, Y: 10, Z: 10}), solid.Shift(obround(4, 18, 60, 16), r3.Vector{Z: -2}))
	m := solid.Merge(solid.Shift(solid.Tube(10, 3, 20, 64), r3.Vector{X: 40}), solid.Box(r3.Vector{X: 20}, r3.Vector{X: 20.3, Y: 9, Z: 9}),
		slotted, solid.Shift(elbow(8, 4, 25, 15, 4, 24), r3.Vector{Y: 40}), solid.Shift(threaded(8.376, 10, 1.5, 15, 48, 8), r3.Vector{Y: -40}))
	opt := screen.Options{BathUp: r3.Vector{Z: 1}, SearchHanging: true, Bath: screen.Bath{SizeMM: [3]float64{300, 300, 300}}}
	opt.Workers = 1
	one := look(t, m, opt)
	opt.Workers = 4
	assert.Equal(t, one, look(t, m, opt))
	assert.Len(t, one.Bores, 2)
	assert.Len(t, one.Slots, 1)
	assert.Len(t, one.Passages, 1)
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := screen.Screen(ctx, solid.Icosphere(5, 3), nil, nil, screen.Options{})
	require.ErrorIs(t, err, context.Canceled)
}

func TestWrongOptions(t *testing.T) {
	_, err := screen.Screen(context.Background(), solid.Icosphere(5, 1), nil, nil, screen.Options{Purpose: "shine"})
	require.ErrorIs(t, err, screen.ErrOptions)
	_, err = screen.Screen(context.Background(), solid.Icosphere(5, 1), nil, nil, screen.Options{TakenMM: make(mesh.CornerField, 1)})
	require.ErrorIs(t, err, screen.ErrOptions)
}
