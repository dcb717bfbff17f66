package arrange

import (
	"errors"
	"sync/atomic"
)

// errTangled says that facets run through each other in more places than the work allowed for.
var errTangled = errors.New("facets run through each other in too many places")

const (
	// pointSteps is what a point common to three facets counts, in pairs of segments looked at.
	pointSteps = 256
	// leastPoints and facetPoints bound these points by default: real parts have
	// fewer than one a facet, and a million take a gigabyte.
	leastPoints = 1 << 21
	facetPoints = 8
)

// work bounds what is left to do. It counts steps, so that the same input ends the
// same way on every machine and with any number of workers.
type work struct{ left atomic.Int64 }

func (w *work) spend(steps int64) error {
	if w.left.Add(-steps) < 0 {
		return errTangled
	}
	return nil
}
