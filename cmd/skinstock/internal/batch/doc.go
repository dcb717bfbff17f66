// Package batch runs many parts: it reads job files, shares parts out over
// processes and cores, keeps to the memory there is, remembers what is
// finished, and writes the results into one folder that it never leaves.
//
// What is done to one part it does not know: the caller hands in a function.
package batch
