//go:build !linux

package memory

// LargePages does nothing here.
func LargePages(int64) {}
