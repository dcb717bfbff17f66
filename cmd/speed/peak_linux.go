package main

import (
	"fmt"
	"os"
	"syscall"
)

// peakMB is the largest resident size of an ended process.
func peakMB(s *os.ProcessState) float64 {
	if r, ok := s.SysUsage().(*syscall.Rusage); ok {
		return float64(r.Maxrss) / 1024
	}
	return 0
}

// residentMB is the resident size of a running process, 0 when it has ended.
func residentMB(pid int) float64 {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/statm", pid))
	if err != nil {
		return 0
	}
	var total, resident int
	if _, err := fmt.Sscan(string(data), &total, &resident); err != nil {
		return 0
	}
	return float64(resident) * float64(os.Getpagesize()) / (1 << 20)
}
