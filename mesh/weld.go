package mesh

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/golang/geo/r3"
)

// Welder joins the corners of facets while a file is still being read.
type Welder struct {
	runs  chan [][3][3]float32
	ended chan struct{}
	close func()
	w     welder
	err   error
}

// NewWelder returns a welder, which works on its own until Stop.
func NewWelder() *Welder {
	w := &Welder{runs: make(chan [][3][3]float32, 64), ended: make(chan struct{})}
	w.close = sync.OnceFunc(func() { close(w.runs) })
	go func() {
		defer close(w.ended)
		for run := range w.runs {
			if w.err == nil {
				w.err = w.w.add(run)
			}
		}
	}()
	return w
}

// Add hands over the next facets, which must not change any more. The room that
// the first of them have behind them tells how many there will be.
func (w *Welder) Add(corners [][3][3]float32) { w.runs <- corners }

// Stop ends the work.
func (w *Welder) Stop() { w.close() }

// finish welds the facets that have not been handed over, and returns the result.
func (w *Welder) finish(corners [][3][3]float32) (points [][3]float32, facets [][3]int32, err error) {
	w.Stop()
	<-w.ended
	if w.err == nil {
		w.err = w.w.add(corners[len(w.w.facets):])
	}
	return w.w.points, w.w.facets, w.err
}

// weldExact joins the corners whose coordinates are equal bit for bit, -0
// counting as +0, and returns the distinct points in order of first use and
// the facets on them. Time and memory are in proportion to the corners.
func weldExact(corners [][3][3]float32) (points [][3]float32, facets [][3]int32, err error) {
	var w welder
	err = w.add(corners)
	return w.points, w.facets, err
}

// welder numbers distinct points.
//
// The table is an open-addressing hash of point numbers. It starts at the
// size that a closed surface needs (half as many vertices as facets) and
// doubles when it is more than half full.
type welder struct {
	table  []int32 // number+1 of a point, 0 when free; length a power of two
	points [][3]float32
	facets [][3]int32
}

// add appends facets. A corner that is no finite point is an error.
func (w *welder) add(corners [][3][3]float32) error {
	if w.table == nil {
		n := cap(corners)
		size := 16
		for size < n+n/8 {
			size *= 2
		}
		w.table, w.points, w.facets = make([]int32, size), make([][3]float32, 0, n/2+8), make([][3]int32, 0, n)
	}
	first := len(w.facets)
	w.facets = slices.Grow(w.facets, len(corners))[:first+len(corners)]
	facets := w.facets[first:]
	for f := range corners {
		for k := range 3 {
			n := w.number(&corners[f][k])
			if n == None {
				return fmt.Errorf("facet %d: corner %d is not a finite point", first+f, k)
			}
			facets[f][k] = n
		}
	}
	return nil
}

// number returns the number of point p, a new one when p has not been met, None
// when it is infinite or no number.
func (w *welder) number(p *[3]float32) int32 {
	// Adding zero turns -0 into +0 and leaves every other value as it is.
	q := [3]float32{p[0] + 0, p[1] + 0, p[2] + 0}
	mask := uint64(len(w.table) - 1)
	for i := hashPoint(&q) & mask; ; i = (i + 1) & mask {
		n := w.table[i]
		if n == 0 {
			if (q[0]-q[0])+(q[1]-q[1])+(q[2]-q[2]) != 0 {
				return None
			}
			w.points = append(w.points, q)
			w.table[i] = int32(len(w.points))
			if 2*len(w.points) > len(w.table) {
				w.grow()
			}
			return int32(len(w.points)) - 1
		}
		if w.points[n-1] == q {
			return n - 1
		}
	}
}

// grow doubles the table.
func (w *welder) grow() {
	w.table = make([]int32, 2*len(w.table))
	mask := uint64(len(w.table) - 1)
	for n := range w.points {
		i := hashPoint(&w.points[n]) & mask
		for w.table[i] != 0 {
			i = (i + 1) & mask
		}
		w.table[i] = int32(n) + 1
	}
}

// hashPoint mixes the 96 bits of a point. Multiplying by odd constants and
// folding the high half down spreads the regular low-order patterns of
// coordinates on a grid.
func hashPoint(p *[3]float32) uint64 {
	x, y, z := uint64(math.Float32bits(p[0])), uint64(math.Float32bits(p[1])), uint64(math.Float32bits(p[2]))
	h := (x | y<<32) * 0x9E3779B97F4A7C15
	h ^= h >> 29
	h = (h + z) * 0xBF58476D1CE4E5B9
	h ^= h >> 32
	h *= 0x94D049BB133111EB
	return h ^ h>>31
}

// scaled returns the points in mm.
func scaled(points [][3]float32, unitMM float64) []r3.Vector {
	v := make([]r3.Vector, len(points))
	InChunks(len(points), 0, func(lo, hi int) {
		for i, p := range points[lo:hi] {
			v[lo+i] = r3.Vector{X: float64(p[0]) * unitMM, Y: float64(p[1]) * unitMM, Z: float64(p[2]) * unitMM}
		}
	})
	return v
}
