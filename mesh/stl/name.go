package stl

import (
	"bytes"
	"math"
)

var nan = float32(math.NaN())

// solidName returns the name in what follows the word "solid" on its line: a
// '#' that stands alone between spaces begins a comment, one that touches a
// word ("part #3") belongs to the name.
func solidName(rest []byte) []byte {
	for i := range rest {
		if loneMark(rest, i) {
			rest = rest[:i]
			break
		}
	}
	return bytes.TrimFunc(rest, func(r rune) bool { return r <= ' ' })
}

// loneMark tells whether byte i is a '#' between spaces.
func loneMark(b []byte, i int) bool {
	return b[i] == '#' && (i == 0 || b[i-1] <= ' ') && (i+1 == len(b) || b[i+1] <= ' ')
}

// writableName returns a name that solidName gives back unchanged: control
// characters, which could end the line or look like a binary file, become
// spaces, and a '#' that would begin a comment becomes a dash.
func writableName(name string) string {
	b := []byte(name)
	for i, c := range b {
		if c < ' ' || c == 0x7F {
			b[i] = ' '
		}
	}
	for i := range b {
		if loneMark(b, i) {
			b[i] = '-'
		}
	}
	return string(solidName(b))
}
