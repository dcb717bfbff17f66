//go:build unix

package field

import (
	"fmt"
	"runtime"
	"syscall"
	"testing"

	"skinstock/mesh/solid"
)

// cpuSeconds is the processor time of the program so far, all processors together: on a
// busy machine it says what the clock on the wall does not.
func cpuSeconds(b *testing.B) float64 {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		b.Fatal(err)
	}
	return float64(r.Utime.Nano()+r.Stime.Nano()) / 1e9
}

// BenchmarkSolve shows how time and memory grow with the panels, on a bent
// smooth body with every facet a panel. heap-MB is what the solution holds at
// its end; B/op counts all that was ever allocated.
func BenchmarkSolve(b *testing.B) {
	for _, c := range []struct{ u, v int }{{100, 50}, {174, 87}, {320, 156}, {640, 312}} {
		m := solid.Torus(3, 1, c.u, c.v)
		b.Run(fmt.Sprintf("panels=%d", len(m.Facets)), func(b *testing.B) {
			b.ReportAllocs()
			var held runtime.MemStats
			before, runs := cpuSeconds(b), 0
			for b.Loop() {
				r, err := Solve(b.Context(), m, Options{AsMeshed: true, Progress: func(v float64) {
					if v > 0.9 {
						return
					}
					runtime.ReadMemStats(&held)
				}})
				if err != nil {
					b.Fatal(err)
				}
				runs++
				b.ReportMetric(float64(r.Iterations), "iterations")
				b.ReportMetric(float64(r.NearEntries)/float64(r.Panels), "near/panel")
				b.ReportMetric(r.CapacitanceMM/3.0917743676-1, "error-C")
			}
			b.ReportMetric((cpuSeconds(b)-before)/float64(runs), "cpu-s")
			b.ReportMetric(float64(held.HeapInuse)/1e6, "heap-MB")
			b.ReportMetric(float64(held.Sys)/1e6, "sys-MB")
		})
	}
}
