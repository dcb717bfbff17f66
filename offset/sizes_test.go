package offset_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
	"skinstock/offset"
	"skinstock/region"
)

// sizesOf grows a part and returns its sizes by kind, larger area first.
func sizesOf(t *testing.T, res *offset.Result) map[region.SizeKind][]offset.SizeCheck {
	t.Helper()
	out := map[region.SizeKind][]offset.SizeCheck{}
	for _, s := range res.Sizes {
		out[s.Kind] = append(out[s.Kind], s)
	}
	return out
}

// A box knows its three sizes: with the recipe's allowances it is printed proud
// by them and finishes at its CAD size.
func TestSizesOfBox(t *testing.T) {
	res, err := offset.Compensate(context.Background(), partOf(t, solid.Box(at(0, 0, 0), at(20, 10, 5))), jobOf(t, nil))
	require.NoError(t, err)
	w := sizesOf(t, res)[region.WidthSize]
	require.Len(t, res.Sizes, 3)
	// Up 164.8, down 192.8, sides 155.8 um: the built-in recipe's sums (README).
	for i, want := range []struct{ cad, grown float64 }{{5, 5.3576}, {10, 10.3116}, {20, 20.3116}} {
		require.InDelta(t, want.cad, w[i].MM, 1e-6)
		require.InDelta(t, want.grown, w[i].GrownMM, 2e-4) // the sums above are rounded to 0.1 um
		require.InDelta(t, want.cad, w[i].FinishedMM, 1e-6)
	}
	// The print's own accuracy of 0.1 mm, and what rate and roughness are unsure of.
	require.Greater(t, w[0].HalfMM, 0.1)
	// 5 mm: ISO 2768-1 c is 0.3 mm for 3 to 6 mm, m is 0.1 (references.md 9).
	require.Equal(t, "c", w[0].General)
}

// Given allowances miss the size by what they are off: 5.2 mm printed lose the
// 164.8 + 192.8 um that the recipe takes.
func TestSizesWithGivenAllowances(t *testing.T) {
	res, err := offset.Compensate(context.Background(), partOf(t, solid.Box(at(0, 0, 0), at(20, 10, 5))), jobOf(t, unequal))
	require.NoError(t, err)
	w := sizesOf(t, res)[region.WidthSize][0]
	require.InDelta(t, 5.2, w.GrownMM, 1e-6)
	require.InDelta(t, 5.2-0.3576, w.FinishedMM, 2e-4)
}

// Bores shrink when printed and come back; kept ones stay, and only the print's
// accuracy is left of their band.
func TestSizesOfBracket(t *testing.T) {
	m := angleBracket()
	free, err := offset.Compensate(context.Background(), partOf(t, m), jobOf(t, nil))
	require.NoError(t, err)
	bores := sizesOf(t, free)[region.BoreSize]
	require.Len(t, bores, 2)
	require.InDelta(t, 8, bores[0].MM, 1e-5)
	require.InDelta(t, 8-2*0.1558, bores[0].GrownMM, 1e-3) // corners of a 48-gon move by 1/cos(pi/48) of the allowance
	require.InDelta(t, 8, bores[0].FinishedMM, 1e-3)
	require.InDelta(t, 6, bores[1].MM, 1e-5)

	job := jobOf(t, nil)
	job.Zones = keptOfBracket
	kept, err := offset.Compensate(context.Background(), partOf(t, m), job)
	require.NoError(t, err)
	for _, b := range sizesOf(t, kept)[region.BoreSize] {
		require.InDelta(t, b.MM, b.GrownMM, 1e-3)
		require.InDelta(t, b.MM, b.FinishedMM, 1e-3)
		require.Equal(t, "masked", b.Kept)
		require.InDelta(t, 0.1, b.HalfMM, 1e-12)
	}
	for _, w := range sizesOf(t, kept)[region.WidthSize] {
		require.InDelta(t, w.MM, w.FinishedMM, 1e-3)
		if w.MM < 7 && w.Axis.Z*w.Axis.Z > 0.5 {
			require.Equal(t, "partly kept", w.Kept, "the foot's underside is masked, its top is not")
		}
	}
}
