package main

import (
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/cmd/skinstock/internal/memory"
	"skinstock/mesh/meshtest"
)

// What pictures are said to take on top of the rest is what they take: no less, so
// that parts that run beside each other fit, and not twice as much, so that as many
// do as could.
func TestPicturesTakeWhatIsSaid(t *testing.T) {
	const facets = 49060
	part := meshtest.Testdata(t, "parts", "lander-bracket.stl")
	peak := func(more ...string) int64 {
		dir := t.TempDir()
		cmd := program(t, append([]string{"compensate", part, "-o", filepath.Join(dir, "grown.stl"), "--verify", "off", "--fail-on", "never", "--workers", "2"}, more...)...)
		code, stderr := finish(t, cmd)
		require.Equal(t, exitDone, code, stderr)
		return cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss << 10
	}
	drawn := peak("--report", filepath.Join(t.TempDir(), "report")) - peak()
	said := memory.Of(facets, memory.Wish{Pictures: true, Quick: true}).Bytes - memory.Of(facets, memory.Wish{Quick: true}).Bytes
	require.Less(t, drawn, said)
	require.Greater(t, 2*drawn, said)
}
