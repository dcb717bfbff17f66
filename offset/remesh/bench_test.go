package remesh_test

import (
	"context"
	"testing"

	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
	"skinstock/offset/remesh"
)

// A bracket of 12,000 facets rebuilt on about 100,000 cells.
func BenchmarkBuild(b *testing.B) {
	m := solid.SmoothBracket(2.2)
	a := even(m, 0.15)
	tree := bvh.New(m, 0)
	b.ReportAllocs()
	for b.Loop() {
		r, err := remesh.Build(context.Background(), m, tree, a, remesh.Options{Cell: 0.4})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(r.Cells), "cells")
		b.ReportMetric(float64(r.Crossings), "crossings")
	}
}
