// Package memory keeps a run within the memory that is there: how much that
// is, how much a part will take, and what to do when it takes more.
package memory
