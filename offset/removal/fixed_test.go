package removal_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/offset/removal"
	"skinstock/region"
)

func TestParseFixed(t *testing.T) {
	all, err := removal.ParseFixed(" 150 ")
	require.NoError(t, err)
	require.Equal(t, map[region.Skin]float64{region.Upskin: 150, region.Vertical: 150, region.Downskin: 150, region.Platform: 150}, all)
	some, err := removal.ParseFixed("upskin=60, downskin=150")
	require.NoError(t, err)
	require.Equal(t, map[region.Skin]float64{region.Upskin: 60, region.Downskin: 150, region.Platform: 150}, some)
	named, err := removal.ParseFixed("downskin=150,platform=0")
	require.NoError(t, err)
	require.Equal(t, 0.0, named[region.Platform])
	for _, text := range []string{"", "x", "-1", "nan", "1e9", "roof=3", "upskin=1,upskin=2", "upskin=", "upskin=60,", "=5"} {
		_, err := removal.ParseFixed(text)
		require.ErrorIs(t, err, removal.ErrFixed, text)
	}
}
