// Package file holds what all readers of part files have in common: the value
// they return and the errors they refuse a file with.
//
// It reads nothing itself: see mesh/load for one call that knows every format.
package file
