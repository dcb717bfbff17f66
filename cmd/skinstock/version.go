package main

import (
	"fmt"
	"runtime"
	"runtime/debug"
	"time"
)

// version tells the module version, revision, Go version and platform from the build info.
func version() string {
	v, rev, dirty := "devel", "", ""
	if bi, ok := debug.ReadBuildInfo(); ok && bi.Main.Version != "" && bi.Main.Version != "(devel)" {
		v = bi.Main.Version
	}
	if r := buildSetting("vcs.revision"); r != "" {
		rev = " " + r[:min(12, len(r))]
	}
	if buildSetting("vcs.modified") == "true" {
		dirty = "+changes"
	}
	return fmt.Sprintf("%s%s%s %s %s/%s", v, rev, dirty, runtime.Version(), runtime.GOOS, runtime.GOARCH)
}

// revisionTime is when the source was committed, zero where the build does not
// know. It stands for the build's date, which would make every build another.
func revisionTime() time.Time {
	t, _ := time.Parse(time.RFC3339, buildSetting("vcs.time"))
	return t.UTC()
}

// revisionDate is revisionTime's day in brackets, empty where it is not known.
func revisionDate() string {
	if t := revisionTime(); !t.IsZero() {
		return " (source of " + t.Format(time.DateOnly) + ")"
	}
	return ""
}

// buildSetting is what the Go toolchain wrote into the binary, or "".
func buildSetting(key string) string {
	if bi, ok := debug.ReadBuildInfo(); ok {
		for _, s := range bi.Settings {
			if s.Key == key {
				return s.Value
			}
		}
	}
	return ""
}
