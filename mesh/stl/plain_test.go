package stl

import (
	"bytes"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/solid"
)

// Whether facets are read in pieces or word by word, as where the bytes come one
// by one, the result is the same: facets, solids, warnings, and the line of an error.
func TestPlainFacetsReadAlike(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteASCII(&b, solid.Icosphere(5, 3), "ball"))
	require.Greater(t, b.Len(), 4*plainPiece)
	text := b.String()
	alike := func(t *testing.T, text string, opt Options) {
		t.Helper()
		want, wrong := Read(iotest.OneByteReader(strings.NewReader(text)), int64(len(text)), opt)
		got, err := Read(strings.NewReader(text), int64(len(text)), opt)
		require.Equal(t, wrong, err)
		require.Equal(t, want, got)
	}
	alike(t, text, Options{})
	alike(t, text, Options{MaxFacets: 20<<6 - 1})
	alike(t, strings.ReplaceAll(text, "\n", "\r\n"), Options{})
	alike(t, strings.ReplaceAll(text, "\n", "\r"), Options{})
	alike(t, strings.ToUpper(text), Options{})
	alike(t, strings.ReplaceAll(text, "outer", "# outer\n outer"), Options{})
	alike(t, text+text, Options{})
	r := rand.New(rand.NewPCG(1, 2))
	for range 20 {
		at := r.IntN(len(text))
		for _, put := range []string{"#", "\r", "\n", " ", "x", "-", "nan ", "1e99 ", "endfacet ", "endsolid\nsolid two\n", "\x00"} {
			alike(t, text[:at]+put+text[at+r.IntN(3):], Options{})
		}
	}
}
