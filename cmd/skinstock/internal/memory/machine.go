package memory

import (
	"bufio"
	"io/fs"
	"path"
	"strconv"
	"strings"
)

// share of what is free that a run takes when it is not told: the rest is for
// the system's file cache and for other programs.
const share = 0.8

// Available returns how many bytes a run may take without the machine having
// to swap, as the system's files below root (/ on a running machine) tell: the
// free memory, or the rest of the container's or the scheduler's limit where
// that is less. It returns 0 where the system does not tell.
func Available(root fs.FS) int64 {
	n := free(root)
	if limit := controlGroup(root); limit > 0 && (n == 0 || limit < n) {
		n = limit
	}
	return int64(share * float64(n))
}

// free is the kernel's estimate of what new work can take without swapping.
func free(root fs.FS) int64 {
	data, err := fs.ReadFile(root, "proc/meminfo")
	if err != nil {
		return 0
	}
	lines := bufio.NewScanner(strings.NewReader(string(data)))
	for lines.Scan() {
		f := strings.Fields(lines.Text())
		if len(f) >= 2 && f[0] == "MemAvailable:" {
			kib, err := strconv.ParseInt(f[1], 10, 64)
			if err != nil {
				return 0
			}
			return kib << 10
		}
	}
	return 0
}

// controlGroup is what the process's control group has left, over all levels
// of the hierarchy, version 2 or 1; 0 where there is no limit.
func controlGroup(root fs.FS) int64 {
	data, err := fs.ReadFile(root, "proc/self/cgroup")
	if err != nil {
		return 0
	}
	least := int64(0)
	for _, line := range strings.Split(string(data), "\n") {
		f := strings.SplitN(line, ":", 3)
		if len(f) != 3 {
			continue
		}
		base, limit, used := "sys/fs/cgroup", "memory.max", "memory.current"
		switch {
		case f[1] == "memory":
			base, limit, used = "sys/fs/cgroup/memory", "memory.limit_in_bytes", "memory.usage_in_bytes"
		case f[1] != "":
			continue
		}
		for dir := path.Join(base, f[2]); ; dir = path.Dir(dir) {
			if n := number(root, path.Join(dir, limit)); n > 0 {
				if rest := max(n-number(root, path.Join(dir, used)), 1); least == 0 || rest < least {
					least = rest
				}
			}
			if dir == base || dir == "." {
				break
			}
		}
	}
	return least
}

// number reads a file with one number; 0 for none, as for the word max, and
// for the huge number by which version 1 says that there is no limit.
func number(root fs.FS, name string) int64 {
	data, err := fs.ReadFile(root, name)
	if err != nil {
		return 0
	}
	n, err := strconv.ParseInt(strings.TrimSpace(string(data)), 10, 64)
	if err != nil || n >= 1<<60 {
		return 0
	}
	return n
}
