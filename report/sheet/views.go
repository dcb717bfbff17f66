package sheet

import (
	"fmt"
	"math"
	"strings"

	"github.com/golang/geo/r3"

	"skinstock/report/render"
)

// View names one of the fixed views.
type View int

// The fixed views, in sheet order.
const (
	Above View = iota // aslant from above
	Below             // aslant from below, so that downskins show
	Front
	Side
)

// Views lists the fixed views in sheet order.
var Views = [...]View{Above, Below, Front, Side}

var viewTitles = [...]string{"aslant from above", "aslant from below", "front", "side"}

// String returns the view's title.
func (v View) String() string { return viewTitles[v] }

var viewSlugs = [...]string{"above", "below", "front", "side"}

// Slug returns the view's name in file names and flags.
func (v View) Slug() string { return viewSlugs[v] }

// ParseView returns the view of a slug.
func ParseView(slug string) (View, error) {
	for _, v := range Views {
		if v.Slug() == slug {
			return v, nil
		}
	}
	return 0, fmt.Errorf("view %q: want one of %s", slug, strings.Join(viewSlugs[:], ", "))
}

// Axes returns the part's axes against the build direction: right (to the
// right in the front view), back (away from the eye there) and up.
func Axes(build r3.Vector) (right, back, up r3.Vector) {
	up = build.Normalize()
	// The part's x axis stays to the right where it can: for the usual build
	// direction z the front view shows x and z.
	x := r3.Vector{X: 1}
	right = x.Sub(up.Mul(x.Dot(up)))
	if right.Norm() < 0.1 {
		y := r3.Vector{Y: 1}
		right = y.Sub(up.Mul(y.Dot(up)))
	}
	right = right.Normalize()
	return right, up.Cross(right), up
}

// Camera returns the camera of a view, not yet centred and with a scale of one.
func (v View) Camera(build r3.Vector) render.View {
	right, back, up := Axes(build)
	// Azimuth from the front to the right, elevation above the platform, degrees.
	var az, el float64
	switch v {
	case Above:
		az, el = 35, 30
	case Below:
		az, el = 35, -30
	case Side:
		az = 90
	}
	sa, ca := math.Sincos(az * math.Pi / 180)
	se, ce := math.Sincos(el * math.Pi / 180)
	toward := right.Mul(sa * ce).Sub(back.Mul(ca * ce)).Add(up.Mul(se))
	return render.LookFrom(toward, up)
}
