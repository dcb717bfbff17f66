package residual_test

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/meshtest"
	"skinstock/offset/calibrate"
	"skinstock/offset/recipe"
	"skinstock/report/residual"
)

func bench(t *testing.T) *calibrate.Result {
	t.Helper()
	f, err := os.Open(meshtest.Testdata(t, "coupons", "pass-bench.csv"))
	require.NoError(t, err)
	defer f.Close()
	c, err := calibrate.Read("pass-bench.csv", f)
	require.NoError(t, err)
	base, err := recipe.Load(recipe.Default)
	require.NoError(t, err)
	res, err := calibrate.Run(c, base, calibrate.Options{})
	require.NoError(t, err)
	return res
}

func TestDrawSVG(t *testing.T) {
	res := bench(t)
	a, err := residual.Draw(res, residual.SVG)
	require.NoError(t, err)
	b, err := residual.Draw(res, residual.SVG)
	require.NoError(t, err)
	require.Equal(t, a, b, "the same data give the same bytes")
	d := xml.NewDecoder(bytes.NewReader(a))
	for {
		_, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err, "the picture is not well formed")
	}
	for _, word := range []string{"levelling: 40 coupons, outliers: 1", "efficiency: 40 coupons", "roughness: 40 coupons", "D30-60", "residual, standard deviations"} {
		require.True(t, strings.Contains(string(a), word), word)
	}
}

func TestDrawPNG(t *testing.T) {
	res := bench(t)
	a, err := residual.Draw(res, residual.PNG)
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(a))
	require.NoError(t, err)
	// Two panels of 11 cm at 150 dots an inch.
	require.InDelta(t, 22/2.54*150, float64(img.Bounds().Dx()), 2)
	seen := map[[3]uint32]bool{}
	var reddish int // the strokes of a cross are thin, so their colour is mixed with white
	for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
		for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
			r, g, b, _ := img.At(x, y).RGBA()
			seen[[3]uint32{r >> 8, g >> 8, b >> 8}] = true
			if r > g+0x3000 && g > b {
				reddish++
			}
		}
	}
	require.True(t, seen[[3]uint32{0x00, 0x72, 0xb2}], "no coupons in the picture")
	require.Positive(t, reddish, "no outlier in the picture")
}

func TestDrawErrors(t *testing.T) {
	_, err := residual.Draw(bench(t), "pdf")
	require.ErrorIs(t, err, residual.ErrFormat)
	_, err = residual.Draw(&calibrate.Result{}, residual.SVG)
	require.ErrorIs(t, err, residual.ErrNoData)
}
