package removal

import (
	"math"

	"github.com/golang/geo/s1"

	"skinstock/region"
)

// Area is a piece of surface of one skin at one inclination.
type Area struct {
	Skin region.Skin

	// Theta is the mean angle between normal and build direction: 0 flat top,
	// 90 degrees wall, 180 ceiling. For downskin and platform, values below 90
	// degrees are taken as the inclination to the platform.
	Theta s1.Angle
	// From and To are the least and the greatest such angle of the piece; both
	// zero when it has one angle only.
	From, To s1.Angle

	AreaMM2 float64
	Faces   int
}

// binsPerDegree is how fine a histogram is.
const binsPerDegree = 2

// Histogram gathers area by skin and angle to the build direction. The zero value is ready.
type Histogram struct {
	bin [len(region.Skins)][180*binsPerDegree + 1]struct {
		area, moment, lo, hi float64
		faces                int
	}
}

// Add enters a face: its skin, the angle of its normal to the build direction
// (or, for downskin and platform, its inclination), and its area in mm2.
func (h *Histogram) Add(skin region.Skin, theta s1.Angle, areaMM2 float64) {
	deg := angle(skin, theta)
	b := &h.bin[skin][int(deg*binsPerDegree)]
	if b.faces == 0 {
		b.lo, b.hi = deg, deg
	}
	b.lo, b.hi = min(b.lo, deg), max(b.hi, deg)
	b.area += areaMM2
	b.moment += float64(areaMM2 * deg)
	b.faces++
}

// Areas returns the filled bins in order of skin and angle.
func (h *Histogram) Areas() []Area {
	var out []Area
	for skin := range h.bin {
		for i := range h.bin[skin] {
			b := &h.bin[skin][i]
			if b.faces == 0 {
				continue
			}
			mean := (b.lo + b.hi) / 2
			if b.area > 0 {
				mean = math.Min(math.Max(b.moment/b.area, b.lo), b.hi)
			}
			out = append(out, Area{
				Skin: region.Skin(skin), Theta: s1.Angle(mean) * s1.Degree,
				From: s1.Angle(b.lo) * s1.Degree, To: s1.Angle(b.hi) * s1.Degree,
				AreaMM2: b.area, Faces: b.faces,
			})
		}
	}
	return out
}
