package memory

import (
	"bufio"
	"fmt"
	"os"
	"strings"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/require"
)

// What is taken after the advice lies where it holds, and what was taken for it is given back.
func TestLargePages(t *testing.T) {
	before := InUse()
	LargePages(leastLarge - 1)
	require.Zero(t, advised.bytes, "asked for a small part")
	LargePages(leastLarge)
	require.Less(t, InUse()-before, int64(16<<20), "bytes in use for the advice alone")
	if _, err := os.Stat("/sys/kernel/mm/transparent_hugepage"); err != nil {
		t.Skip("this system has no large pages")
	}
	var taken [][]byte // first what tests before this one have left
	for range 16 {
		b := make([]byte, 16<<20)
		if strings.Contains(flagsAt(t, uintptr(unsafe.Pointer(&b[len(b)/2]))), " hg") {
			return
		}
		taken = append(taken, b)
	}
	t.Errorf("%d MB of memory were taken, none where the advice holds", 16*len(taken))
}

// flagsAt returns the kernel's flags of the mapping that an address lies in.
func flagsAt(t *testing.T, at uintptr) string {
	t.Helper()
	f, err := os.Open("/proc/self/smaps")
	require.NoError(t, err)
	defer f.Close()
	in := false
	for s := bufio.NewScanner(f); s.Scan(); {
		var from, to uintptr
		if n, _ := fmt.Sscanf(s.Text(), "%x-%x ", &from, &to); n == 2 {
			in = from <= at && at < to
		} else if flags, ok := strings.CutPrefix(s.Text(), "VmFlags:"); ok && in {
			return flags
		}
	}
	t.Fatal("the memory is in no mapping")
	return ""
}
