package mesh

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"sync"

	"github.com/golang/geo/r3"
)

// Welder joins the corners of facets while a file is still being read. It does
// not keep them, so that a large file's are never in memory all at once.
type Welder struct {
	full, free chan *weldRun
	ended      chan struct{}
	close      func()
	expected   int // facets in all, about
	all        joined
}

// weldRuns is how many runs are on their way at most.
const weldRuns = 3

// NewWelder returns a welder, which works on its own until Stop.
func NewWelder() *Welder {
	w := &Welder{full: make(chan *weldRun, weldRuns), free: make(chan *weldRun, weldRuns), ended: make(chan struct{})}
	for range weldRuns {
		w.free <- new(weldRun)
	}
	w.close = sync.OnceFunc(func() { close(w.full) })
	go func() {
		defer close(w.ended)
		for r := range w.full {
			w.all.join(r, w.expected)
			w.free <- r
		}
	}()
	return w
}

// Expect tells about how many facets there will be, before any is taken. Nobody
// is told where there is no welder.
func (w *Welder) Expect(facets int) {
	if w != nil {
		w.expected = facets
	}
}

// Offer lets the welder, where there is one, take the facets that s has at
// present. It leaves them while they are few.
func (w *Welder) Offer(s *Soup) {
	if w == nil || len(s.Corners) < weldFacets {
		return
	}
	r := <-w.free
	r.weld(s.Corners)
	w.full <- r
	s.Before, s.Corners = s.Len(), s.Corners[:0]
}

// Stop ends the work.
func (w *Welder) Stop() { w.close() }

// finish welds the facets that are left, and returns the result.
func (w *Welder) finish(corners [][3][3]float32) (points [][3]float32, facets [][3]int32, err error) {
	w.Stop()
	<-w.ended
	w.all.joinAll(corners, w.expected)
	return w.all.points, w.all.facets, w.all.err
}

// weldExact joins the corners whose coordinates are equal bit for bit, -0
// counting as +0, and returns the distinct points in order of first use and
// the facets on them. Time and memory are in proportion to the corners.
func weldExact(corners [][3][3]float32) (points [][3]float32, facets [][3]int32, err error) {
	var all joined
	all.joinAll(corners, 0)
	return all.points, all.facets, all.err
}

// weldFacets is how many facets are first welded among themselves. Their points
// stay in the processor's cache, and in a file whose facets come in some order
// few of their corners are left to be looked for among all.
const weldFacets = 4096

// weldRun are facets that come one after the other, welded among themselves.
type weldRun struct {
	pointSet
	facets [][3]int32
	number []int32 // of their points among all
}

// weld takes facets in place of those before.
func (r *weldRun) weld(corners [][3][3]float32) {
	r.clear(len(corners))
	r.facets = slices.Grow(r.facets[:0], len(corners))[:len(corners)]
	for f := range corners {
		r.add(corners[f][:], r.facets[f][:])
	}
}

// joined are runs of facets, welded.
type joined struct {
	pointSet
	facets [][3]int32
	err    error // a corner is no finite point
}

// joinAll joins facets, run by run, where about so many are expected in all.
func (j *joined) joinAll(corners [][3][3]float32, expected int) {
	expected = max(expected, len(corners))
	var r weldRun
	for run := range slices.Chunk(corners, weldFacets) {
		r.weld(run)
		j.join(&r, expected)
	}
}

// join joins the next run.
func (j *joined) join(r *weldRun, expected int) {
	if j.table == nil {
		j.clear(expected)
		j.facets = make([][3]int32, 0, expected)
	}
	known := len(j.points)
	r.number = slices.Grow(r.number[:0], len(r.points))[:len(r.points)]
	j.add(r.points, r.number)
	if j.err == nil && !allFinite(j.points[known:]) {
		j.err = r.notFinite(len(j.facets))
	}
	for _, t := range r.facets {
		j.facets = append(j.facets, [3]int32{r.number[t[0]], r.number[t[1]], r.number[t[2]]})
	}
}

// notFinite names the first corner that is no finite point; the run begins with facet first.
func (r *weldRun) notFinite(first int) error {
	for f, t := range r.facets {
		for k, n := range t {
			if !allFinite(r.points[n : n+1]) {
				return fmt.Errorf("facet %d: corner %d is not a finite point", first+f, k)
			}
		}
	}
	return nil
}

func allFinite(points [][3]float32) bool {
	var sum float32 // stays zero exactly when all are
	for i := range points {
		p := &points[i]
		sum += (p[0] - p[0]) + (p[1] - p[1]) + (p[2] - p[2])
	}
	return sum == 0
}

// pointSet numbers distinct points in order of first use.
//
// The table is an open-addressing hash of point numbers. It starts at the size
// that a closed surface needs (half as many vertices as facets) and doubles when
// it is more than five eighths full: one that stays in the processor's cache is
// worth a longer search.
type pointSet struct {
	table  []int32 // number+1 of a point, 0 when free; length a power of two
	points [][3]float32
}

// clear empties the set, and makes room for the points of so many facets.
func (s *pointSet) clear(facets int) {
	size := 16
	for size < facets {
		size *= 2
	}
	if len(s.table) < size {
		s.table, s.points = make([]int32, size), make([][3]float32, 0, facets/2+8)
		return
	}
	clear(s.table)
	s.points = s.points[:0]
}

// add finds the numbers of points, new ones included.
func (s *pointSet) add(points [][3]float32, number []int32) {
	table, all := s.table, s.points // at hand: the loop below is most of welding
	for k := range points {
		p := &points[k]
		q := [3]float32{p[0] + 0, p[1] + 0, p[2] + 0} // turns -0 into +0 and leaves every other value as it is
		i := hashPoint(&q) & uint64(len(table)-1)
		n := table[i]
		for n != 0 && all[n-1] != q {
			i = (i + 1) & uint64(len(table)-1)
			n = table[i]
		}
		if n == 0 {
			all = append(all, q)
			n = int32(len(all))
			table[i] = n
			if 8*len(all) > 5*len(table) {
				table = rehashed(all, 2*len(table))
			}
		}
		number[k] = n - 1
	}
	s.table, s.points = table, all
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
