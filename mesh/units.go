package mesh

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"
)

// Unit is a unit of length that a file may be written in.
type Unit struct {
	Name string  // as on the command line
	MM   float64 // mm in one unit
}

// units in order of size. The inch is exactly 25.4 mm.
var units = [...]Unit{{"um", 1e-3}, {"mm", 1}, {"cm", 10}, {"inch", 25.4}, {"m", 1000}}

// Units returns the known units, smallest first.
func Units() []Unit { return append([]Unit(nil), units[:]...) }

// ParseUnit returns the unit called name: um, mm, cm, inch or m.
func ParseUnit(name string) (Unit, error) {
	for _, u := range units {
		if u.Name == name {
			return u, nil
		}
	}
	return Unit{}, fmt.Errorf("unknown unit %q: use mm, cm, m, inch or um", name)
}

// Sizes beyond which a part of this trade is doubtful: powder-bed machines
// resolve no detail on a part below 1 mm and have no chamber of 2 m.
const (
	doubtBelowMM = 1
	doubtAboveMM = 2000
	usualSizeMM  = 100 // middle, on a logarithmic scale, of what is printed in metal
)

// UnitDoubt looks at the box of a part, in mm, that was read in the given
// unit. When its longest side is under 1 mm or over 2 m it returns the unit
// that the numbers look like, which is the one that brings the part nearest to
// the usual size, and a sentence that says so. Otherwise ok is true.
func UnitDoubt(lo, hi r3.Vector, read Unit) (likely Unit, message string, ok bool) {
	d := hi.Sub(lo)
	size := math.Max(d.X, math.Max(d.Y, d.Z))
	if !(size > 0) || size >= doubtBelowMM && size <= doubtAboveMM {
		return read, "", true
	}
	likely = read
	best := math.Inf(1)
	for _, u := range units {
		if miss := math.Abs(math.Log(size / read.MM * u.MM / usualSizeMM)); miss < best {
			best, likely = miss, u
		}
	}
	if likely == read {
		return likely, fmt.Sprintf("the part is %s mm long when read in %s: check the unit of the file", plain(size), read.Name), false
	}
	return likely, fmt.Sprintf("the part is %s mm long when read in %s: the numbers look like %s, which would make it %s mm",
		plain(size), read.Name, likely.Name, plain(size/read.MM*likely.MM)), false
}

// plain writes a length with four digits, and one of metres without an exponent.
func plain(mm float64) string {
	if mm >= 1000 && mm < 1e15 {
		return fmt.Sprintf("%.0f", mm)
	}
	return fmt.Sprintf("%.4g", mm)
}
