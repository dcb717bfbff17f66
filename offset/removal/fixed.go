package removal

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"skinstock/region"
)

// ErrFixed is in the chain of every error about fixed allowances.
var ErrFixed = errors.New("fixed allowance")

// ParseFixed reads fixed allowances in um for [Options]: one number for all
// skins ("150"), or some by name ("upskin=60,vertical=80,downskin=150").
// Platform takes the downskin's unless it is named.
func ParseFixed(text string) (map[region.Skin]float64, error) {
	out := map[region.Skin]float64{}
	if !strings.Contains(text, "=") {
		v, err := fixedValue(text)
		if err != nil {
			return nil, err
		}
		for _, s := range region.Skins {
			out[s] = v
		}
		return out, nil
	}
	for _, part := range strings.Split(text, ",") {
		name, value, _ := strings.Cut(part, "=")
		skin, err := region.ParseSkin(strings.TrimSpace(name))
		if err != nil {
			return nil, fmt.Errorf("%w: %w", ErrFixed, err)
		}
		if _, twice := out[skin]; twice {
			return nil, fmt.Errorf("%w: %s is given twice; keep one of them", ErrFixed, skin)
		}
		v, err := fixedValue(value)
		if err != nil {
			return nil, err
		}
		out[skin] = v
	}
	if v, ok := out[region.Downskin]; ok {
		if _, named := out[region.Platform]; !named {
			out[region.Platform] = v
		}
	}
	return out, nil
}

func fixedValue(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsNaN(v) || v < 0 || v > maxFixedUM {
		return 0, fmt.Errorf("%w: %q cannot be; give um between 0 and %d, as 150 or as upskin=60,downskin=150", ErrFixed, strings.TrimSpace(text), maxFixedUM)
	}
	return v, nil
}
