package mesh_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh"
)

func TestParseUnit(t *testing.T) {
	for name, mm := range map[string]float64{"mm": 1, "cm": 10, "m": 1000, "inch": 25.4, "um": 0.001} {
		u, err := mesh.ParseUnit(name)
		require.NoError(t, err)
		require.Equal(t, mesh.Unit{Name: name, MM: mm}, u)
	}
	_, err := mesh.ParseUnit("feet")
	require.EqualError(t, err, `unknown unit "feet": use mm, cm, m, inch or um`)
	require.Len(t, mesh.Units(), 5)
}

func TestUnitDoubt(t *testing.T) {
	unit := func(name string) mesh.Unit {
		u, err := mesh.ParseUnit(name)
		require.NoError(t, err)
		return u
	}
	for _, c := range []struct {
		size   float64 // mm, as read
		read   string
		likely string
		ok     bool
	}{
		{100, "mm", "mm", true},
		{1, "mm", "mm", true},
		{2000, "mm", "mm", true},
		{0.115, "mm", "m", false},  // a part of 115 mm in metres
		{0.9, "mm", "inch", false}, // 23 mm in inches rather than 900 mm in metres
		{90000, "mm", "um", false}, // 90 mm in um
		{2540, "inch", "mm", false},
		{120000, "m", "mm", false}, // 120 mm read as metres
		{0.1, "um", "mm", false},
	} {
		likely, message, ok := mesh.UnitDoubt(v(-1, 0, 0), v(c.size-1, c.size/2, c.size/3), unit(c.read))
		require.Equal(t, c.ok, ok, "%+v", c)
		require.Equal(t, c.likely, likely.Name, "%+v", c)
		require.Equal(t, ok, message == "")
		if !ok {
			require.Contains(t, message, c.likely)
		}
	}
}
