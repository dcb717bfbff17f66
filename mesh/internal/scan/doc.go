// Package scan reads words and numbers from mesh files written as text, in
// one pass over a fixed window and without an allocation a word.
//
// It is shared by the readers below mesh and knows no format. Bytes up to and
// including the space separate words; a '#' at the start of a word begins a
// comment that runs to the end of the line; LF, CR LF and CR alone end a line.
package scan
