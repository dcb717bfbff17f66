package report

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/offset"
	"skinstock/region"
	"skinstock/report/chart"
	"skinstock/report/sheet"
)

// tiltStep is the step of the tilt curves in degrees.
const tiltStep = 5

// tiltCurves measures the downskin area for build directions tilted from the
// one planned, towards the part's right and towards its back as the front view
// shows them. Facets are judged one by one by the recipe's limit, without the
// merging of islands.
func tiltCurves(m *mesh.Mesh, build r3.Vector, verticalFromDeg float64) []chart.TiltCurve {
	right, back, up := sheet.Axes(build)
	out := []chart.TiltCurve{{Name: "towards the right of the front view"}, {Name: "towards its back"}}
	var tilted [2][]r3.Vector // build directions
	for i, side := range [...]r3.Vector{right, back} {
		for deg := -90.0; deg <= 90; deg += tiltStep {
			s, c := math.Sincos(deg * math.Pi / 180)
			tilted[i] = append(tilted[i], up.Mul(c).Add(side.Mul(s)))
			out[i].Deg = append(out[i].Deg, deg)
		}
		out[i].AreaMM2 = make([]float64, len(tilted[i]))
	}
	// A facet is a downskin when its normal points down and its inclination is
	// below the limit: n.b < -cos(limit) |n|.
	limit := math.Cos(verticalFromDeg * math.Pi / 180)
	for f := range m.Facets { // each once, since directions are few and facets many
		n := m.AreaNormal(f)
		twice := n.Norm() // the area
		most := -limit * twice
		for i, side := range [...]r3.Vector{right, back} {
			// The normal's share in the plane of the tilts is what the best of them can meet.
			if u, v := n.Dot(up), n.Dot(side); u*u+v*v < most*most*(1-1e-9) {
				continue
			}
			for j, b := range tilted[i] {
				if n.Dot(b) < most {
					out[i].AreaMM2[j] += twice / 2
				}
			}
		}
	}
	return out
}

// roughnessCurves are Ra as built against the inclination, as the plan has
// them, for the sides that occur on the part.
func roughnessCurves(res *offset.Result) []chart.Curve {
	var out []chart.Curve
	limit := res.Plan.Recipe.Geometry.VerticalFromDeg.Value
	for _, s := range res.Plan.Skins {
		from, to := 0.0, limit
		if s.Skin == region.Vertical {
			from, to = limit, 90
		}
		c := chart.Curve{Name: s.Skin.String()}
		for deg := from; deg <= to; deg += math.Max((to-from)/30, 0.1) {
			theta := deg
			if s.Skin == region.Downskin || s.Skin == region.Platform {
				theta = 180 - deg
			}
			c.ThetaDeg = append(c.ThetaDeg, deg)
			c.RaUM = append(c.RaUM, res.Plan.At(s.Skin, s1.Angle(theta)*s1.Degree).RaUM)
		}
		out = append(out, c)
	}
	return out
}
