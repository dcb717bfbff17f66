package removal

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// ErrTolerance is returned for a tolerance that cannot be read or has no table value.
var ErrTolerance = errors.New("tolerance")

// nGrades are the roughness grades N1 to N12 with their Ra in um (ISO 1302:1992; references.md 2).
var nGrades = [...]float64{0.025, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.3, 12.5, 25, 50}

// NGrade returns the finest roughness grade that an Ra in um qualifies for, "N1"
// to "N12", and "" beyond N12. A grade is an upper limit: 7.4 um is N10.
func NGrade(raUM float64) string {
	for i, limit := range nGrades {
		if raUM <= limit {
			return fmt.Sprintf("N%d", i+1)
		}
	}
	return ""
}

// itTable are widths of IT5 to IT14 in um (ISO 286-1; references.md 9), by size above..upTo in mm.
var itTable = [...]struct {
	above, upTo float64
	width       [10]float64
}{
	{6, 10, [10]float64{6, 9, 15, 22, 36, 58, 90, 150, 220, 360}},
	{10, 18, [10]float64{8, 11, 18, 27, 43, 70, 110, 180, 270, 430}},
	{18, 30, [10]float64{9, 13, 21, 33, 52, 84, 130, 210, 330, 520}},
	{30, 50, [10]float64{11, 16, 25, 39, 62, 100, 160, 250, 390, 620}},
	{50, 80, [10]float64{13, 19, 30, 46, 74, 120, 190, 300, 460, 740}},
	{80, 120, [10]float64{15, 22, 35, 54, 87, 140, 220, 350, 540, 870}},
}

// ITWidth returns the width in um of ISO 286-1 grade it, 5 to 14, for a size in mm, above 6 and up to 120.
func ITWidth(it int, sizeMM float64) (um float64, err error) {
	if it < 5 || it > 14 {
		return 0, fmt.Errorf("%w: IT%d is not in the table, which has IT5 to IT14", ErrTolerance, it)
	}
	for _, r := range itTable {
		if sizeMM > r.above && sizeMM <= r.upTo {
			return r.width[it-5], nil
		}
	}
	return 0, fmt.Errorf("%w: the ISO 286 table has sizes above 6 and up to 120 mm, not %.4g mm; give the tolerance as a number in mm", ErrTolerance, sizeMM)
}

// ISO 2768-1 linear deviations in mm, plus and minus (references.md 9); NaN where the standard has none.
var (
	generalUpTo = [...]float64{3, 6, 30, 120, 400, 1000}
	general     = [...]struct {
		class string
		dev   [6]float64
	}{
		{"f", [6]float64{0.05, 0.05, 0.1, 0.15, 0.2, 0.3}},
		{"m", [6]float64{0.1, 0.1, 0.2, 0.3, 0.5, 0.8}},
		{"c", [6]float64{0.2, 0.3, 0.5, 0.8, 1.2, 2}},
		{"v", [6]float64{math.NaN(), 0.5, 1, 1.5, 2.5, 4}},
	}
)

// GeneralDeviation returns the deviation in mm, plus and minus, of ISO 2768-1
// class f, m, c or v for a size in mm, 0.5 to 1000.
func GeneralDeviation(class string, sizeMM float64) (mm float64, err error) {
	if !(sizeMM >= 0.5 && sizeMM <= 1000) {
		return 0, fmt.Errorf("%w: the ISO 2768-1 table has sizes from 0.5 to 1000 mm, not %.4g mm; give the tolerance as a number in mm", ErrTolerance, sizeMM)
	}
	for _, g := range general {
		if g.class != class {
			continue
		}
		i := 0
		for sizeMM > generalUpTo[i] {
			i++
		}
		if math.IsNaN(g.dev[i]) {
			return 0, fmt.Errorf("%w: ISO 2768-1 class v has no value up to 3 mm; give the tolerance as a number in mm", ErrTolerance)
		}
		return g.dev[i], nil
	}
	return 0, fmt.Errorf("%w: ISO 2768-1 has the classes f, m, c and v, not %q", ErrTolerance, class)
}

// Wanted is a tolerance that a size must keep.
type Wanted struct {
	HalfUM float64 // half-width of the zone
	SizeMM float64 // size it was looked up for
	Name   string  // such as "IT9 at 50 mm"
}

var (
	itForm      = regexp.MustCompile(`^it *([0-9]{1,2})$`)
	generalForm = regexp.MustCompile(`^(?:iso *)?(?:2768)?[- ]*([a-z])[a-z]?$`)
)

// ParseWanted reads a tolerance: a number in mm, meant plus and minus ("0.1"),
// an ISO 286 grade ("IT9", whose zone is taken as symmetrical) or an ISO 2768-1
// class ("m", "2768-m", "2768-mK"). Grades and classes are looked up for the size in mm.
func ParseWanted(text string, sizeMM float64) (Wanted, error) {
	s := strings.ToLower(strings.TrimSpace(text))
	num := strings.TrimSpace(strings.TrimSuffix(strings.TrimLeft(s, "±+-/ "), "mm"))
	if v, err := strconv.ParseFloat(num, 64); err == nil {
		if !(v > 0 && v <= 100) {
			return Wanted{}, fmt.Errorf("%w %q: give more than 0 and at most 100 mm", ErrTolerance, text)
		}
		return Wanted{HalfUM: 1000 * v, SizeMM: sizeMM, Name: fmt.Sprintf("±%s mm", num)}, nil
	}
	if m := itForm.FindStringSubmatch(s); m != nil {
		n, _ := strconv.Atoi(m[1])
		w, err := ITWidth(n, sizeMM)
		return Wanted{HalfUM: w / 2, SizeMM: sizeMM, Name: fmt.Sprintf("IT%d at %.4g mm", n, sizeMM)}, err
	}
	if m := generalForm.FindStringSubmatch(s); m != nil {
		d, err := GeneralDeviation(m[1], sizeMM)
		return Wanted{HalfUM: 1000 * d, SizeMM: sizeMM, Name: fmt.Sprintf("ISO 2768-%s at %.4g mm", m[1], sizeMM)}, err
	}
	return Wanted{}, fmt.Errorf("%w %q is not known: give a number in mm such as 0.1, an ISO 286 grade such as IT9, or an ISO 2768 class f, m, c or v", ErrTolerance, text)
}
