package screen

import (
	"fmt"
	"math"
)

// tenths writes a length or an area with one decimal, or below 1 with two
// significant digits: parts can be smaller than a tenth of a millimetre.
func tenths(v float64) string {
	if v != 0 && math.Abs(v) < 0.995 {
		return fmt.Sprintf("%.2g", v)
	}
	return fmt.Sprintf("%.1f", v)
}

// volume writes a volume with sensible digits.
func volume(mm3 float64) string {
	if math.Abs(mm3) >= 1e5 {
		return fmt.Sprintf("%.1f cm3", mm3/1000)
	}
	if math.Abs(mm3) >= 100 {
		return fmt.Sprintf("%.0f mm3", mm3)
	}
	return fmt.Sprintf("%.3g mm3", mm3)
}
