package memory

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"

	"skinstock/mesh/meshtest"
)

func TestParseSizes(t *testing.T) {
	for in, want := range map[string]int64{"8G": 8 << 30, "512m": 512 << 20, "1.5 GiB": 3 << 29, "2.5GB": 2_500_000_000, "100": 100, "1K": 1024, "2T": 2 << 40, "7b": 7} {
		n, err := Parse(in)
		require.NoError(t, err, in)
		require.Equal(t, want, n, in)
	}
	for _, bad := range []string{"", "0", "-1G", "G", "1X", "NaN", "1e30T", "inf"} {
		_, err := Parse(bad)
		require.Error(t, err, bad)
	}
	require.Equal(t, "1.5 GiB", Format(3<<29))
	require.Equal(t, "12 B", Format(12))
}

func file(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }

// The least of what the kernel calls available and what the control groups,
// the process's own and those above it, leave.
func TestAvailable(t *testing.T) {
	meminfo := file("MemTotal: 8388608 kB\nMemFree: 100 kB\nMemAvailable:    4194304 kB\n")
	const gib = 1 << 30
	for name, c := range map[string]struct {
		root fstest.MapFS
		want float64
	}{
		"nothing told": {fstest.MapFS{}, 0},
		"no group":     {fstest.MapFS{"proc/meminfo": meminfo}, 4 * gib},
		"no limit": {fstest.MapFS{
			"proc/meminfo": meminfo, "proc/self/cgroup": file("0::/a/b\n"),
			"sys/fs/cgroup/a/b/memory.max": file("max\n"), "sys/fs/cgroup/a/b/memory.current": file("5\n"),
		}, 4 * gib},
		"limit above": {fstest.MapFS{
			"proc/meminfo": meminfo, "proc/self/cgroup": file("0::/a/b\n"), "sys/fs/cgroup/a/b/memory.max": file("max\n"),
			"sys/fs/cgroup/a/memory.max": file("2147483648\n"), "sys/fs/cgroup/a/memory.current": file("1073741824\n"),
		}, 1 * gib},
		"version 1": {fstest.MapFS{
			"proc/meminfo": meminfo, "proc/self/cgroup": file("4:memory:/job\n3:cpu:/job\n"),
			"sys/fs/cgroup/memory/job/memory.limit_in_bytes": file("3221225472\n"), "sys/fs/cgroup/memory/job/memory.usage_in_bytes": file("1073741824\n"),
			"sys/fs/cgroup/memory/memory.limit_in_bytes": file("9223372036854771712\n"),
		}, 2 * gib},
	} {
		require.EqualValues(t, int64(share*c.want), Available(c.root), name)
	}
}

// What parts were seen to take lies below the estimate, but not by more than two thirds.
func TestNeedOfLargeParts(t *testing.T) {
	for facets, seen := range map[int64]int64{1_034_976: 649e6, 2_065_512: 1_355e6, 4_967_624: 2_868e6, 20_805_624: 18_132e6} {
		got := Of(facets, Wish{}).Bytes
		require.Greater(t, got, seen, facets)
		require.Less(t, got, seen*5/3, facets)
	}
}

// The estimate of the number of facets is good to a third on real files of each format.
func TestFacetsOfFiles(t *testing.T) {
	dir := t.TempDir()
	write := func(name, head, each string, n int) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, append([]byte(head), bytes.Repeat([]byte(each), n)...), 0o666))
		return path
	}
	const n = 3000
	for path, want := range map[string]int64{
		meshtest.Testdata(t, "parts", "lander-bracket.stl"): 49060,
		write("a.stl", "solid x\n", " facet normal 0.123456 -0.654321 0.5\n  outer loop\n   vertex 12.345678 1.2345678 100.25\n   vertex 12.345678 1.2345678 100.25\n   vertex 12.345678 1.2345678 100.25\n  endloop\n endfacet\n", n): n,
		write("b.obj", "# x\n", "v 12.345678 1.2345678 100.25\nf 1234 2345 3456\nf 1235 2346 3457\n", n/2):                                                                                                                             n,
		write("c.off", "OFF\n", "12.345678 1.2345678 100.25\n3 1234 2345 3456\n3 1235 2346 3457\n", n/2):                                                                                                                               n,
	} {
		f, err := os.Open(path)
		require.NoError(t, err)
		st, err := f.Stat()
		require.NoError(t, err)
		got, err := Facets(f, st.Size())
		f.Close()
		require.NoError(t, err)
		require.InEpsilon(t, want, got, 0.34, path)
	}
}

func TestWatchTells(t *testing.T) {
	told := make(chan *OverError, 1)
	stop := Watch(context.Background(), InUse()+32<<20, func(e *OverError) {
		select {
		case told <- e:
		default:
		}
	})
	defer stop()
	hold := make([]byte, 96<<20)
	for i := range hold {
		hold[i] = 1
	}
	select {
	case e := <-told:
		require.True(t, e.Running)
		require.ErrorContains(t, e, "raise --max-memory")
	case <-time.After(30 * time.Second):
		t.Fatal("nothing was told")
	}
	runtime.KeepAlive(hold)
}

// A lattice of 20 million facets fits into 12 GB when nothing is checked, and
// pictures or a field come on top of either.
func TestQuickRunsNeedLess(t *testing.T) {
	const lattice = 20_000_000
	quick := Of(lattice, Wish{Quick: true}).Bytes
	if quick > 12e9 || quick >= Of(lattice, Wish{}).Bytes {
		t.Errorf("%d bytes for a quick run", quick)
	}
	if drawn := Of(lattice, Wish{Quick: true, Pictures: true}).Bytes; drawn <= quick {
		t.Errorf("%d bytes with pictures, %d without", drawn, quick)
	}
}
