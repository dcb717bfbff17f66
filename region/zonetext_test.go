package region

import (
	"errors"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/mesh"
	"skinstock/mesh/solid"
)

func TestParseZone(t *testing.T) {
	lid := solid.Box(at(0, 0, 0), at(1, 1, 1))
	open := func(path string) (*mesh.Mesh, error) {
		if path != "lid.stl" {
			return nil, os.ErrNotExist
		}
		return lid, nil
	}
	for text, want := range map[string]Zone{
		"box 0,0,0 20,10,5": {Shape: Box{at(0, 0, 0), at(20, 10, 5)}},
		"cylinder 0,0,10 axis 0,0,1 diameter 8 length 20 mask":   {Shape: Cylinder{at(0, 0, 10), at(0, 0, 1), 8, 20}},
		"ball 1,2,3 diameter 4.5 stock 0.5 name eye of leg":      {Shape: Ball{at(1, 2, 3), 4.5}, StockMM: 0.5, Name: "eye of leg"},
		"half-space 0,0,5 normal 0,0,-1":                         {Shape: HalfSpace{at(0, 0, 5), at(0, 0, -1)}},
		"bore near 1,2,3 name eye of leg stock 0.5 note to ream": {Shape: BoreNear{at(1, 2, 3)}, StockMM: 0.5, Name: "eye of leg", Note: "to ream"},
		"stl lid.stl name lid":                                   {Shape: &Body{File: "lid.stl", Mesh: lid}, Name: "lid"},
		"bore near 12,0,30":                                      {Shape: BoreNear{at(12, 0, 30)}},
		"plane near -1,0.5,1e1":                                  {Shape: PlaneNear{at(-1, 0.5, 10)}},
	} {
		z, err := ParseZone(text, open)
		require.NoError(t, err, text)
		require.Equal(t, want, z)
		// What a zone prints reads back as the same zone.
		again, err := ParseZone(z.Shape.String()+" "+z.Treatment(), open)
		require.NoError(t, err)
		require.Equal(t, z.Shape, again.Shape)
		require.Equal(t, z.StockMM, again.StockMM)
	}
	for _, text := range []string{
		"", "cube 0,0,0 1,1,1", "box 0,0,0", "box 1,1,1 0,0,0", "box 0,0 1,1,1", "box 0,0,0 1,1,x", "ball 0,0,0 diameter -1",
		"ball 0,0,0 diameter NaN", "half-space 0,0,0 normal 0,0,0", "bore 0,0,0", "bore near 0,0,0 stock 0", "bore near 0,0,0 stock",
		"bore near 0,0,0 mask stock 1", "bore near 0,0,0 name", "bore near 0,0,0 name note x", "bore near 0,0,0 stock 1 name a mask", "stl", "stl mask", "cylinder 0,0,0 axis 0,0,1 diameter 1", "plane near 0,0,Inf",
	} {
		_, err := ParseZone(text, open)
		require.ErrorIs(t, err, ErrZone, text)
	}
	_, err := ParseZone("stl none.stl", open)
	require.ErrorIs(t, err, os.ErrNotExist)
	_, err = ParseZone("stl lid.stl", nil)
	require.ErrorIs(t, err, ErrZone)
}

func FuzzParseZone(f *testing.F) {
	f.Add("cylinder 0,0,10 axis 0,0,1 diameter 8 length 20 stock 0.5 name a b")
	f.Add("bore near 1,2,3 mask")
	f.Add("half-space 0,0,1 normal 1e-300,0,0")
	f.Fuzz(func(t *testing.T, text string) {
		z, err := ParseZone(text, nil)
		if err != nil {
			if !errors.Is(err, ErrZone) {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		again, err := ParseZone(z.Shape.String()+" "+z.Treatment(), nil)
		if err != nil || again.Shape != z.Shape || again.StockMM != z.StockMM {
			t.Fatalf("%q reads back as %v, %v", text, again, err)
		}
	})
}
