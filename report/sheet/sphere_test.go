package sheet

import (
	"image/color"
	"math"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"skinstock/region/orient"
	"skinstock/report/render"
)

// Equal solid angles have equal areas: the disc's cells are equal in the
// picture, and their directions are spread evenly over the half sphere.
func TestSphereMapKeepsAreas(t *testing.T) {
	s := sphereDisc{point{300, 300}, true}
	within := func(deg float64) float64 { // share of the disc's area within an angle of the pole
		a := deg * math.Pi / 180
		p := s.at(r3.Vector{X: math.Sin(a), Z: math.Cos(a)})
		return math.Pow((p.x-300)/sphereRadius, 2)
	}
	for _, deg := range []float64{10, 30, 60, 90} {
		require.InDelta(t, 1-math.Cos(deg*math.Pi/180), within(deg), 1e-12) // the cap's share of a half sphere
	}
	for _, q := range []float64{0.1, 0.5, 0.99} {
		for _, phi := range []float64{0, 1, 3, 5} {
			for _, up := range []bool{true, false} {
				s.up = up
				d := s.dir(q, phi)
				p := s.at(d)
				require.InDelta(t, 300+sphereRadius*q*math.Cos(phi), p.x, 1e-9)
				require.InDelta(t, 300-sphereRadius*q*math.Sin(phi), p.y, 1e-9)
				require.Equal(t, up, d.Z >= 0)
			}
		}
	}
}

// Each half shows its own scores, marks are drawn where they point, and what is
// no choice is grey.
func TestSphereMapShowsScores(t *testing.T) {
	m := &SphereMap{Part: "a <part>", Recipe: "r", Assumed: true, Marks: []SphereMark{{Dir: r3.Vector{Z: 1}, Note: "current"}, {Dir: r3.Vector{X: 1}, Text: "1", Note: "best"}}}
	for _, d := range orient.Even(600) {
		v := 2.0
		switch {
		case d.Z < -0.1:
			v = 3
		case d.X < -0.5:
			v = math.NaN()
		}
		m.Dirs, m.Scores = append(m.Dirs, d), append(m.Scores, v)
	}
	d, err := m.Drawing()
	require.NoError(t, err)
	img, err := d.Picture()
	require.NoError(t, err)
	low, high := render.Viridis(0).SRGB(), render.Viridis(1).SRGB()
	for _, c := range []struct {
		want color.RGBA
		x, y int
	}{{low, 320, 300}, {high, 880, 300}, {render.Hex(noneColour).SRGB(), 100, 360}} { // above, below, no choice
		got := img.RGBAAt(c.x, c.y)
		// Cells and the strokes between them round to one step more or less.
		require.InDelta(t, c.want.R, got.R, 1)
		require.InDelta(t, c.want.G, got.G, 1)
		require.InDelta(t, c.want.B, got.B, 1)
	}
	svg := d.SVG("x")
	for _, want := range []string{"a &lt;part&gt;", "values assumed", "towards +z", "grey:", ">best<", ">current<"} {
		require.Contains(t, strings.ReplaceAll(svg, "−", "-"), want)
	}
	_, err = (&SphereMap{}).Drawing()
	require.ErrorIs(t, err, ErrInput)
	for i := range m.Scores {
		m.Scores[i] = 1
	}
	_, err = m.Drawing()
	require.NoError(t, err, "a ball is as good any way")
}
