package main

import (
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"
	"time"
)

// usage is what one process took.
type usage struct {
	wall, cpu time.Duration
	peakMB    float64 // 0 where the system does not tell
}

// measure runs a command to its end; what it prints is shown only when it fails.
func measure(name string, args ...string) (usage, error) {
	cmd := exec.Command(name, args...)
	var said strings.Builder
	cmd.Stdout, cmd.Stderr = &said, &said
	start := time.Now()
	if err := cmd.Run(); err != nil {
		return usage{}, fmt.Errorf("%s %s: %w\n%s", name, strings.Join(args, " "), err, said.String())
	}
	s := cmd.ProcessState
	return usage{wall: time.Since(start), cpu: s.UserTime() + s.SystemTime(), peakMB: peakMB(s)}, nil
}

// median takes the middle of each figure by itself.
func median(all []usage) usage {
	return usage{
		wall:   middle(all, func(u usage) time.Duration { return u.wall }),
		cpu:    middle(all, func(u usage) time.Duration { return u.cpu }),
		peakMB: middle(all, func(u usage) float64 { return u.peakMB }),
	}
}

func middle[T time.Duration | float64, U any](all []U, of func(U) T) T {
	v := make([]T, len(all))
	for i, u := range all {
		v[i] = of(u)
	}
	slices.Sort(v)
	return v[len(v)/2]
}

// facetCount reads the count in the header of a binary STL file.
func facetCount(file string) (uint32, error) {
	f, err := os.Open(file)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	head := make([]byte, 84)
	if _, err := io.ReadFull(f, head); err != nil {
		return 0, err
	}
	return binary.LittleEndian.Uint32(head[80:]), nil
}
