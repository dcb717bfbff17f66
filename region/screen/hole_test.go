package screen_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/finding"
	"skinstock/mesh/solid"
	"skinstock/region/screen"
)

// A tube's bore is found whatever its width, sides and direction.
func TestTubeBores(t *testing.T) {
	for i, c := range []struct {
		d, h float64
		n    int
	}{{10, 20, 64}, {3, 20, 12}, {6, 4, 24}, {20, 3, 48}, {8, 60, 9}, {2, 30, 32}, {30, 4, 96}} {
		dir := r3.Vector{X: 0.3 + float64(i), Y: -0.7, Z: 0.2}.Normalize()
		rep := look(t, along(solid.Tube(c.d/2+4, c.d/2, c.h, c.n), dir, r3.Vector{X: 5, Y: -3, Z: 11}, 0.4), screen.Options{})
		require.Len(t, rep.Bores, 1, "tube %d", i)
		b := rep.Bores[0]
		assert.InEpsilon(t, c.d, b.DiameterMM, 1e-4, "tube %d", i) // the vertices lie on the circle
		assert.InEpsilon(t, c.h, b.DepthMM, 0.01, "tube %d", i)
		assert.Equal(t, 2, b.OpenEnds)
		assert.InDelta(t, 1, math.Abs(b.Axis.Dot(dir)), 1e-6)
		assert.Empty(t, rep.Slots, "tube %d", i)
	}
}

// byDiameter returns the bore whose diameter is nearest to d.
func byDiameter(rep *screen.Report, d float64) screen.Bore {
	best := rep.Bores[0]
	for _, b := range rep.Bores {
		if math.Abs(b.DiameterMM-d) < math.Abs(best.DiameterMM-d) {
			best = b
		}
	}
	return best
}

// Two holes that cross are two holes, each of its whole depth.
func TestCrossHoles(t *testing.T) {
	block := solid.Box(r3.Vector{X: -20, Y: -15, Z: -10}, r3.Vector{X: 20, Y: 15, Z: 10})
	m := cut(t, block,
		solid.Shift(solid.Cylinder(4, 60, 48), r3.Vector{Z: -30}),
		along(solid.Cylinder(2.5, 80, 36), r3.Vector{X: 1}, r3.Vector{X: -40, Z: 0.3}, 0.1))
	rep := look(t, m, screen.Options{})
	require.Len(t, rep.Bores, 2)
	assert.Empty(t, rep.Slots)
	a, b := byDiameter(rep, 8), byDiameter(rep, 5)
	assert.InEpsilon(t, 8, a.DiameterMM, 0.01)
	assert.InEpsilon(t, 20, a.DepthMM, 0.02)
	assert.InEpsilon(t, 5, b.DiameterMM, 0.01)
	assert.InEpsilon(t, 40, b.DepthMM, 0.02)
	assert.Equal(t, 2, a.OpenEnds)
	assert.Equal(t, 2, b.OpenEnds)
}

// A blind hole that ends in another one is open at both ends.
func TestHoleIntoHole(t *testing.T) {
	block := solid.Box(r3.Vector{X: -20, Y: -15, Z: -10}, r3.Vector{X: 20, Y: 15, Z: 10})
	m := cut(t, block,
		along(solid.Cylinder(4, 80, 48), r3.Vector{X: 1}, r3.Vector{X: -40}, 0.1),
		solid.Cylinder(2, 30, 36))
	rep := look(t, m, screen.Options{})
	require.Len(t, rep.Bores, 2)
	b := byDiameter(rep, 4)
	assert.InEpsilon(t, 4, b.DiameterMM, 0.01)
	assert.Equal(t, 2, b.OpenEnds)
	// From the mouth to the wall of the other hole, mean round the circle:
	// 10 - mean of sqrt(16 - 4 sin2) over the turn = 10 - 3.7361.
	assert.InEpsilon(t, 6.264, b.DepthMM, 0.02)
	assert.InEpsilon(t, 40, byDiameter(rep, 8).DepthMM, 0.02)
}

// A counterbored through hole is two bores in one line; the narrow one leads
// to the bath through the wide one.
func TestCounterbore(t *testing.T) {
	m := solid.RevolveLoop([]solid.Ring{{R: 14, Z: 0}, {R: 14, Z: 20}, {R: 6, Z: 20}, {R: 6, Z: 14}, {R: 3, Z: 14}, {R: 3, Z: 0}}, 64)
	if m.Volume() < 0 {
		m = solid.Reverse(m)
	}
	rep := look(t, m, screen.Options{})
	require.Len(t, rep.Bores, 2)
	narrow, wide := byDiameter(rep, 6), byDiameter(rep, 12)
	assert.InEpsilon(t, 6, narrow.DiameterMM, 0.01)
	assert.InEpsilon(t, 14, narrow.DepthMM, 0.02)
	assert.Equal(t, 2, narrow.OpenEnds)
	assert.InEpsilon(t, 12, wide.DiameterMM, 0.01)
	assert.InEpsilon(t, 6, wide.DepthMM, 0.02)
	assert.Equal(t, 2, wide.OpenEnds)
}

// A hole that tapers from 10 to 6 mm over 40 mm: both ends' diameters and the
// mean; the limit of one diameter from each end is the sum of local widths.
func TestTaper(t *testing.T) {
	m := solid.RevolveLoop([]solid.Ring{{R: 14, Z: 0}, {R: 14, Z: 40}, {R: 5, Z: 40}, {R: 3, Z: 0}}, 64)
	if m.Volume() < 0 {
		m = solid.Reverse(m)
	}
	rep := look(t, m, screen.Options{})
	require.Len(t, rep.Bores, 1)
	b := rep.Bores[0]
	assert.InEpsilon(t, 8, b.DiameterMM, 0.02)
	assert.InEpsilon(t, 40, b.DepthMM, 0.02)
	assert.InDelta(t, 6, b.MinDiameterMM, 0.35) // sections stand half a radius apart
	assert.InDelta(t, 10, b.MaxDiameterMM, 0.35)
	// From the wide end z: the integral of dz/(10 - z/10) is one at z = 10 (10 - 9.048); from the narrow end 10 (6.631 - 6).
	want := 100*(1-math.Exp(-0.1)) + 60*(math.Exp(0.1)-1)
	assert.InEpsilon(t, want, b.Reach.LimitMM, 0.02)
}

// sweep returns a tube body of outer radius ro and bore ri along a quarter
// turn of radius bend in the plane y = 0, with straight legs.
func elbow(ro, ri, bend, leg float64, n, turn int) *mesh.Mesh {
	type frame struct{ c, u, v r3.Vector }
	var fs []frame
	y := r3.Vector{Y: 1}
	add := func(c, tangent r3.Vector) { fs = append(fs, frame{c, y, tangent.Cross(y)}) }
	add(r3.Vector{X: -leg, Z: bend}, r3.Vector{X: 1})
	for k := range turn + 1 {
		s, c := math.Sincos(math.Pi / 2 * float64(k) / float64(turn))
		add(r3.Vector{X: bend * s, Z: bend * c}, r3.Vector{X: c, Z: -s})
	}
	add(r3.Vector{X: bend, Z: -leg}, r3.Vector{Z: -1})
	m := &mesh.Mesh{}
	ring := func(f frame, r float64) (out []int32) {
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			out = append(out, int32(len(m.Vertices)))
			m.Vertices = append(m.Vertices, f.c.Add(f.u.Mul(r*c)).Add(f.v.Mul(r*s)))
		}
		return out
	}
	join := func(a, b []int32) {
		for k := range n {
			l := (k + 1) % n
			m.Facets = append(m.Facets, [3]int32{a[k], b[k], b[l]}, [3]int32{a[k], b[l], a[l]})
		}
	}
	var outer, inner [][]int32
	for _, f := range fs {
		outer, inner = append(outer, ring(f, ro)), append(inner, ring(f, ri))
	}
	last := len(fs) - 1
	for i := range last {
		join(outer[i], outer[i+1])
		join(inner[i+1], inner[i])
	}
	join(inner[0], outer[0])
	join(outer[last], inner[last])
	if m.Volume() < 0 {
		m = solid.Reverse(m)
	}
	return m
}

// A channel through an elbow: the length of its centre line is two legs and a quarter turn.
func TestCurvedChannel(t *testing.T) {
	m := elbow(8, 4, 25, 10, 40, 18)
	require.True(t, m.Topology().Closed())
	rep := look(t, m, screen.Options{})
	require.Len(t, rep.Bores, 1)
	b := rep.Bores[0]
	assert.True(t, b.Curved)
	assert.InEpsilon(t, 8, b.DiameterMM, 0.02)
	assert.InEpsilon(t, 20+25*math.Pi/2, b.DepthMM, 0.02)
	assert.Equal(t, 2, b.OpenEnds)
	assert.Empty(t, rep.Slots)
}

// threaded returns a tube with an internal thread of triangular profile.
func threaded(minor, major, pitch, h float64, n, perPitch int) *mesh.Mesh {
	layers := int(math.Round(h / pitch * float64(perPitch)))
	m := &mesh.Mesh{}
	ring := func(r func(k int) float64, z float64) (out []int32) {
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			out = append(out, int32(len(m.Vertices)))
			m.Vertices = append(m.Vertices, r3.Vector{X: r(k) * c, Y: r(k) * s, Z: z})
		}
		return out
	}
	join := func(a, b []int32) {
		for k := range n {
			l := (k + 1) % n
			m.Facets = append(m.Facets, [3]int32{a[k], b[l], b[k]}, [3]int32{a[k], a[l], b[l]})
		}
	}
	outer := func(int) float64 { return major/2 + 4 }
	var inner [][]int32
	for j := range layers + 1 {
		z := h * float64(j) / float64(layers)
		inner = append(inner, ring(func(k int) float64 {
			_, turn := math.Modf(z/pitch + float64(k)/float64(n) + 10)
			return minor/2 + (major-minor)/2*(1-math.Abs(2*turn-1))
		}, z))
	}
	bottom, top := ring(outer, 0), ring(outer, h)
	for j := range layers {
		join(inner[j+1], inner[j])
	}
	join(bottom, top)
	join(inner[0], bottom)
	join(top, inner[layers])
	if m.Volume() < 0 {
		m = solid.Reverse(m)
	}
	return m
}

// A thread is one hole that is told as such, coarse or fine.
func TestThreads(t *testing.T) {
	for i, c := range []struct {
		minor, major, pitch, h float64
		n, per                 int
	}{{8.376, 10, 1.5, 15, 48, 8}, {4.134, 5, 0.8, 4, 24, 4}, {18.4, 20, 1.5, 20, 64, 6}, {2.459, 3, 0.5, 6, 32, 6}, {2.47, 3.62, 0.75, 8.5, 32, 6}} {
		m := threaded(c.minor, c.major, c.pitch, c.h, c.n, c.per)
		require.True(t, m.Topology().Closed())
		rep := look(t, along(m, r3.Vector{X: 0.3, Y: -0.5, Z: 0.8}.Normalize(), r3.Vector{X: 5}, 0.4), screen.Options{})
		require.Len(t, rep.Bores, 1, "thread %d", i)
		b := rep.Bores[0]
		assert.True(t, b.Threaded, "thread %d", i)
		assert.Empty(t, rep.Slots, "thread %d", i)
		// Its crests and roots are told once, not as keen edges, thin walls and closing gaps.
		found := codes(rep.Findings)
		assert.Equal(t, finding.Warning, found["thread"], "thread %d", i)
		for _, code := range []string{"bore_unreached", "closing_gap", "thin_wall"} {
			assert.NotContains(t, found, code, "thread %d", i)
		}
		assert.Greater(t, rep.SharpEdges.SharpestDeg, 80.0, "thread %d", i)
		// The mean of a triangular wave, less the flats of the mesh.
		assert.InEpsilon(t, (c.minor+c.major)/2, b.DiameterMM, 0.03, "thread %d", i)
		assert.InEpsilon(t, c.h, b.DepthMM, 0.05, "thread %d", i) // it ends in the middle of a turn
		assert.Equal(t, 2, b.OpenEnds, "thread %d", i)
	}
}
