// Package region sorts the facets of a part into skins by their inclination to
// the build platform, and cleans the sorting up.
package region

import "fmt"

// Skin is the class of a facet against the build direction. Upskin and
// downskin are terms of ISO/ASTM 52911-1; vertical is this program's class for
// what is steeper than a limit, and platform contact is the flat underside of
// a part that stands on the platform.
type Skin uint8

// Skins in the order in which tables list them.
const (
	Upskin Skin = iota
	Vertical
	Downskin
	Platform
)

// Skins lists all skins in table order.
var Skins = [...]Skin{Upskin, Vertical, Downskin, Platform}

var skinNames = [...]string{"upskin", "vertical", "downskin", "platform"}

// String returns the name used in recipes, JSON and on the command line.
func (s Skin) String() string { return skinNames[s] }

// Letter returns the skin's letter in legends and sections: U, V, D or P.
func (s Skin) Letter() string { return "UVDP"[s : s+1] }

// MarshalText writes the name.
func (s Skin) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// ParseSkin is the inverse of Skin.String.
func ParseSkin(name string) (Skin, error) {
	for i, n := range skinNames {
		if n == name {
			return Skin(i), nil
		}
	}
	return 0, fmt.Errorf("%q is no skin: use upskin, vertical, downskin or platform", name)
}

// UnmarshalText is the inverse of MarshalText.
func (s *Skin) UnmarshalText(text []byte) (err error) {
	*s, err = ParseSkin(string(text))
	return err
}
