package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

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
		require.NoError(t, cmd.Start())
		most := make(chan int64)
		go func() { most <- highWater(cmd.Process.Pid) }()
		require.NoError(t, cmd.Wait())
		return <-most
	}
	drawn := peak("--report", filepath.Join(t.TempDir(), "report")) - peak()
	said := memory.Of(facets, memory.Wish{Pictures: true, Quick: true}).Bytes - memory.Of(facets, memory.Wish{Quick: true}).Bytes
	require.Less(t, drawn, said)
	require.Greater(t, 2*drawn, said)
}

// highWater returns the most memory in bytes that a process had, when it has ended. What
// the system tells of a child then counts the test's own memory too, which it began with.
func highWater(pid int) (most int64) {
	for {
		b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
		_, after, found := strings.Cut(string(b), "VmHWM:")
		if err != nil || !found { // gone, or a shell of itself
			return most
		}
		kb, err := strconv.ParseInt(strings.Fields(after)[0], 10, 64)
		if err != nil {
			return most
		}
		most = kb << 10
		time.Sleep(2 * time.Millisecond)
	}
}
