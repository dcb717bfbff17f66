package main

import (
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
