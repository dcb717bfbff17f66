package stl

import (
	"fmt"

	"skinstock/mesh/finding"
)

// normalCount compares the stored normals with the corners. The normals
// themselves are not kept: the corners' order says which side is outside.
type normalCount struct {
	notNumber, reversed int
}

// add looks at the stored normal n of facet t; a zero normal says nothing.
func (c *normalCount) add(n [3]float32, t *[3][3]float32) {
	d := dot(n, t)
	switch {
	case d < 0:
		c.reversed++
	case d != d || d-d != 0:
		if !isFinite(n[0]) || !isFinite(n[1]) || !isFinite(n[2]) {
			c.notNumber++
		}
	}
}

// dot returns n . (b-a) x (c-a). The sign is what is asked for; a facet whose
// normal is nearly perpendicular to the stored one may count either way.
func dot(n [3]float32, t *[3][3]float32) float64 {
	ax, ay, az := float64(t[0][0]), float64(t[0][1]), float64(t[0][2])
	ux, uy, uz := float64(t[1][0])-ax, float64(t[1][1])-ay, float64(t[1][2])-az
	vx, vy, vz := float64(t[2][0])-ax, float64(t[2][1])-ay, float64(t[2][2])-az
	return float64(float64(n[0])*(float64(uy*vz)-float64(uz*vy))) +
		float64(float64(n[1])*(float64(uz*vx)-float64(ux*vz))) +
		float64(float64(n[2])*(float64(ux*vy)-float64(uy*vx)))
}

// warn adds what was counted to the file's warnings.
func (c *normalCount) warn(f *File) {
	if c.notNumber > 0 {
		f.warn(CodeNormal, c.notNumber, fmt.Sprintf("%s no numbers: all normals are computed from the corners", stored(c.notNumber, "is", "are")), "")
	}
	if c.reversed > 0 {
		f.warn(CodeReversed, c.reversed, fmt.Sprintf("%s against the order of the corners, which is what counts", stored(c.reversed, "points", "point")), "")
		f.Warnings[len(f.Warnings)-1].Severity = finding.Info
	}
}

func stored(n int, one, many string) string {
	if n == 1 {
		return "1 stored normal " + one
	}
	return fmt.Sprintf("%d stored normals %s", n, many)
}

func (f *File) warn(code string, count int, message, remedy string) {
	f.Warnings = append(f.Warnings, finding.Finding{
		Code: code, Severity: finding.Warning, Message: message, Remedy: remedy, Count: count,
	})
}
