package offset_test

import (
	"context"
	"testing"
	"time"

	"skinstock/mesh/bvh"
	"skinstock/mesh/solid"
	"skinstock/offset"
	"skinstock/offset/limit"
)

// BenchmarkRoom sets the time that local room and the test for self-crossings
// take on a gyroid of a million facets, their trees included, beside that of the
// whole computation.
func BenchmarkRoom(b *testing.B) {
	p := partOf(b, solid.GyroidCube(0.255))
	job := jobOf(b, nil)
	var all, some time.Duration
	for b.Loop() {
		start := time.Now()
		res, err := offset.Compensate(context.Background(), p, job)
		if err != nil {
			b.Fatal(err)
		}
		all += time.Since(start)
		start = time.Now()
		if _, err := limit.Gaps(context.Background(), res.Nominal, res.Topo, res.Allowance, limit.Options{MinGap: job.Recipe.Geometry.MinGapMM.Value}); err != nil {
			b.Fatal(err)
		}
		if _, err := bvh.New(res.Grown, 0).SelfCrossings(context.Background(), bvh.CrossingOptions{}); err != nil {
			b.Fatal(err)
		}
		some += time.Since(start)
	}
	n := float64(b.N)
	b.ReportMetric(float64(len(p.Mesh.Facets)), "facets")
	b.ReportMetric(float64(all.Milliseconds())/n, "whole_ms")
	b.ReportMetric(float64(some.Milliseconds())/n, "room_and_crossings_ms")
}
