package mesh

import (
	"fmt"
	"math"
	"math/bits"
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
	w := &Welder{runs: make(chan [][3][3]float32, 4), ended: make(chan struct{})}
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
// The table is an open-addressing hash of point numbers. It starts at the size
// that a closed surface needs (half as many vertices as facets) and doubles when
// it is more than five eighths full: one that stays in the processor's cache is
// worth a longer search.
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
		for size < n {
			size *= 2
		}
		w.table, w.points, w.facets = make([]int32, size), make([][3]float32, 0, n/2+8), make([][3]int32, 0, n)
	}
	first := len(w.facets)
	w.facets = slices.Grow(w.facets, len(corners))[:first+len(corners)]
	facets := w.facets[first:]
	table, points := w.table, w.points // at hand: the loop below is most of welding
	for f := range corners {
		for k := range 3 {
			p := &corners[f][k]
			q := [3]float32{p[0] + 0, p[1] + 0, p[2] + 0} // turns -0 into +0 and leaves every other value as it is
			i := hashPoint(&q) & uint64(len(table)-1)
			n := table[i]
			for n != 0 && points[n-1] != q {
				i = (i + 1) & uint64(len(table)-1)
				n = table[i]
			}
			if n == 0 {
				if (q[0]-q[0])+(q[1]-q[1])+(q[2]-q[2]) != 0 {
					return fmt.Errorf("facet %d: corner %d is not a finite point", first+f, k)
				}
				points = append(points, q)
				n = int32(len(points))
				table[i] = n
				if 8*len(points) > 5*len(table) {
					table = rehashed(points, 2*len(table))
				}
			}
			facets[f][k] = n - 1
		}
	}
	w.table, w.points = table, points
	return nil
}

// rehashed returns a table of the given size that holds all points.
func rehashed(points [][3]float32, size int) []int32 {
	table := make([]int32, size)
	for n := range points {
		i := hashPoint(&points[n]) & uint64(size-1)
		for table[i] != 0 {
			i = (i + 1) & uint64(size-1)
		}
		table[i] = int32(n) + 1
	}
	return table
}

// hashPoint mixes the 96 bits of a point: both halves of a product of two
// factors that hold all of them, each made irregular by an arbitrary constant,
// depend on every bit, so coordinates on a grid spread too.
func hashPoint(p *[3]float32) uint64 {
	x, y, z := uint64(math.Float32bits(p[0])), uint64(math.Float32bits(p[1])), uint64(math.Float32bits(p[2]))
	hi, lo := bits.Mul64((x|y<<32)^0x9E3779B97F4A7C15, (z|z<<32)^0xBF58476D1CE4E5B9)
	return hi ^ lo
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
