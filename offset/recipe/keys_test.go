package recipe

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every value that a built-in recipe holds stands among the keys, with its unit.
func TestKeysHoldEveryValue(t *testing.T) {
	keys := map[string]Key{}
	for _, k := range Keys() {
		require.NotContains(t, keys, k.Path, "listed twice")
		require.NotEmpty(t, k.Doc, k.Path)
		require.NotEmpty(t, k.Value, k.Path)
		keys[k.Path] = k
	}
	for _, name := range List() {
		r, err := Load(name)
		require.NoError(t, err)
		for _, v := range r.Values() {
			path := v.Path
			for _, skin := range []string{"upskin", "vertical", "downskin", "platform"} {
				path = strings.Replace(path, "classes."+skin, "classes.<skin>", 1)
			}
			for strings.Contains(path, "[") {
				i, j := strings.Index(path, "["), strings.Index(path, "]")
				path = path[:i] + "\x00" + path[j+1:]
			}
			path = strings.ReplaceAll(path, "\x00", "[]")
			require.Contains(t, keys, path)
			require.True(t, strings.HasSuffix(keys[path].Value, v.Unit), "%s in %s", path, keys[path].Value)
		}
	}
	require.Equal(t, Key{"print.layer_um", "5 to 500 um", "required", "layer thickness"}, keys["print.layer_um"])
	require.Equal(t, "60", keys["geometry.vertical_from_deg"].Need)
	require.Equal(t, "> 0 to 90 deg", keys["geometry.vertical_from_deg"].Value)
	require.Equal(t, "peaks, mean", keys["print.size_datum"].Value)
}
