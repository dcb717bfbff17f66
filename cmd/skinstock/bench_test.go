package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"skinstock/cmd/skinstock/internal/memory"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
)

// rings writes n rings with facets from least to most into a new folder.
func rings(b *testing.B, n, least, most int) string {
	b.Helper()
	dir := b.TempDir()
	for i := range n {
		facets := least + (most-least)*i/max(1, n-1)
		nu := 16
		for nu*nu/2 < facets {
			nu += 2
		}
		var buf bytes.Buffer
		require.NoError(b, stl.WriteBinary(&buf, solid.Torus(20, 6, nu, nu/4), "ring"))
		require.NoError(b, os.WriteFile(filepath.Join(dir, fmt.Sprintf("ring-%03d.stl", i)), buf.Bytes(), 0o666))
	}
	return dir
}

// BenchmarkBatch tells parts a second by workers, and the most memory in use
// over the first and over the second half of the parts, which should be alike.
// SKINSTOCK_BENCH_PARTS sets another number of parts than 60. All are rings, which
// are smooth: cmd/speed -batch has parts of several kinds.
func BenchmarkBatch(b *testing.B) {
	memory.Collect() // as the program does
	parts := 60
	if s := os.Getenv("SKINSTOCK_BENCH_PARTS"); s != "" {
		parts, _ = strconv.Atoi(s)
	}
	for _, c := range []struct {
		name        string
		least, most int
		args        []string
	}{
		{"5k-50k", 5000, 50000, nil},
		{"10k-no-pictures", 10000, 10000, []string{"--thumbnails=false"}},
	} {
		dir := rings(b, parts, c.least, c.most)
		for _, workers := range []string{"1", "2"} {
			b.Run(c.name+"/workers="+workers, func(b *testing.B) {
				for b.Loop() {
					out := filepath.Join(b.TempDir(), "out")
					peak := watchPeaks(out, parts)
					args := append([]string{"batch", filepath.Join(dir, "*.stl"), "--out", out, "--allowance-um", "100", "--workers", workers, "--quiet"}, c.args...)
					code, _, stderr := runHere(b, args...)
					first, second := peak()
					require.Equal(b, exitDone, code, stderr)
					b.ReportMetric(float64(first)/(1<<20), "MiB-first-half")
					b.ReportMetric(float64(second)/(1<<20), "MiB-second-half")
				}
				b.ReportMetric(float64(parts*b.N)/b.Elapsed().Seconds(), "parts/s")
			})
		}
	}
}

// watchPeaks notes the most memory in use while the first and while the second
// half of the parts are done.
func watchPeaks(out string, parts int) (stop func() (first, second int64)) {
	var end atomic.Bool
	peaks := make(chan [2]int64)
	go func() {
		var peak [2]int64
		for !end.Load() {
			results, _ := os.ReadFile(filepath.Join(out, "results.jsonl"))
			half := min(1, 2*bytes.Count(results, []byte("\n"))/parts)
			peak[half] = max(peak[half], memory.InUse())
			time.Sleep(10 * time.Millisecond)
		}
		peaks <- peak
	}()
	return func() (int64, int64) {
		end.Store(true)
		p := <-peaks
		return p[0], p[1]
	}
}
