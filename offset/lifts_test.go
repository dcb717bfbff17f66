package offset

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
)

// A vertex comes back to where its round began, and is reined from where all began.
func TestLiftsComeBack(t *testing.T) {
	at := func(x float64) r3.Vector { return r3.Vector{X: x} }
	l := liftsOf([]r3.Vector{at(0), at(10)})
	l.begin()
	l.to(1, at(11))
	l.to(1, at(12))
	assert.Equal(t, at(10), l.from(1))
	assert.Equal(t, at(2), l.by(1))
	l.begin()
	l.to(1, at(14))
	l.to(0, at(-1))
	assert.Equal(t, []r3.Vector{at(12), at(0)}, []r3.Vector{l.from(1), l.from(0)})
	l.rein(3)
	assert.Equal(t, []r3.Vector{at(-1), at(13)}, l.at, "three from 10, not from 12")
	l.back(1)
	l.back(0)
	assert.Equal(t, []r3.Vector{at(0), at(12)}, l.at)
}
