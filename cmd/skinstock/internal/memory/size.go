package memory

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

var units = []struct {
	name  string
	bytes float64
}{{"TIB", 1 << 40}, {"GIB", 1 << 30}, {"MIB", 1 << 20}, {"KIB", 1 << 10}, {"TB", 1e12}, {"GB", 1e9}, {"MB", 1e6}, {"KB", 1e3}, {"T", 1 << 40}, {"G", 1 << 30}, {"M", 1 << 20}, {"K", 1 << 10}, {"B", 1}}

// Parse reads a size such as 8G, 512MiB or 2.5GB; a bare letter means powers
// of 1024, a bare number bytes.
func Parse(s string) (int64, error) {
	text, unit := strings.ToUpper(strings.TrimSpace(s)), 1.0
	for _, u := range units {
		if t, ok := strings.CutSuffix(text, u.name); ok {
			text, unit = strings.TrimSpace(t), u.bytes
			break
		}
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v > 0) || v*unit >= math.MaxInt64 {
		return 0, fmt.Errorf("%q: give a size such as 8G or 512M", s)
	}
	return int64(v * unit), nil
}

// Format writes a size with three digits, such as 1.25 GiB.
func Format(n int64) string {
	for _, u := range []struct {
		name  string
		bytes float64
	}{{"TiB", 1 << 40}, {"GiB", 1 << 30}, {"MiB", 1 << 20}, {"KiB", 1 << 10}} {
		if v := float64(n) / u.bytes; v >= 1 {
			return strconv.FormatFloat(v, 'g', 3, 64) + " " + u.name
		}
	}
	return strconv.FormatInt(n, 10) + " B"
}
