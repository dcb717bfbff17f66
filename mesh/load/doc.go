// Package load reads a part file of any known format with one call. The
// content decides which format it is, never the name.
package load
