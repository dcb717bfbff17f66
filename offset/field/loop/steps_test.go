package loop

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"

	"skinstock/mesh/solid"
	"skinstock/offset/field"
)

// balls are two balls far apart in a bath that polarises: what each takes depends
// on its radius alone, but for the other's potential at its middle. With u = 1 - (the
// other's charge)/distance the flux is u/(r+L), and the charge r^2 times that.
type balls struct{ radius, length, apart float64 }

// rates are the local factors of balls of radii a and b.
func (s balls) rates(a, b float64) (fa, fb float64) {
	ca, cb := a*a/(a+s.length), b*b/(b+s.length) // charge at potential 1
	k := 1 / (1 - ca*cb/(s.apart*s.apart))
	qa, qb := k*(1-cb/s.apart)/(a+s.length), k*(1-ca/s.apart)/(b+s.length)
	mean := (a*a*qa + b*b*qb) / (a*a + b*b)
	return qa / mean, qb / mean
}

// grown are the radii that finish at a and b after the removal: the bath run
// backwards, by Euler steps of a ten thousandth.
func (s balls) grown(a, b, removal float64) (float64, float64) {
	const n = 10000
	for range n {
		fa, fb := s.rates(a, b)
		a, b = a+fa*removal/n, b+fb*removal/n
	}
	return a, b
}

// A ball that grows draws less current, and its stock is found on the way: with
// more steps the loop comes nearer to the radii that finish on nominal.
func TestStepsFollowTheRemoval(t *testing.T) {
	const small, large, removal = 1.5, 4.0, 0.8
	s := balls{length: 0.5, apart: 60}
	wantA, wantB := s.grown(small, large, removal)
	m := solid.Merge(solid.Icosphere(small, 3), solid.Shift(solid.Icosphere(large, 3), r3.Vector{X: s.apart}))
	off := map[int]float64{}
	ea, eb := 1.0, 0.5
	for range 100 {
		fa, fb := s.rates(small+ea, large+eb)
		ea, eb = removal*fa, removal*fb
	}
	t.Log("on the grown surface alone ", ea/(wantA-small)-1, eb/(wantB-large)-1)
	for n := 1; n < 5; n++ {
		ea, eb := 1.0, 0.5
		for range 100 {
			var sa, sb float64
			for k := range n {
				x := 1 - (float64(k)+.5)/float64(n)
				fa, fb := s.rates(small+x*ea, large+x*eb)
				sa, sb = sa+removal*fa/float64(n), sb+removal*fb/float64(n)
			}
			ea, eb = sa, sb
		}
		t.Log("path ", n, ea/(wantA-small)-1, eb/(wantB-large)-1)
	}
	for _, steps := range []int{1, 2} {
		r, err := Run(t.Context(), m, Options{RemovalMM: removal, Steps: steps, Rounds: 4, Field: field.Options{AsMeshed: true, PolarisationMM: s.length}})
		if err != nil {
			t.Fatal(err)
		}
		var a, b float64 // stock, mean over the facets
		n := len(m.Facets) / 2
		for f := range n {
			a += r.StockMM[f] / float64(n)
			b += r.StockMM[n+f] / float64(n)
		}
		off[steps] = a/(wantA-small) - 1
		t.Logf("%d steps: stock %.4f and %.4f mm, want %.4f and %.4f: %.2f %% and %.2f %% off; %+v", steps, a, b, wantA-small, wantB-large, 100*off[steps], 100*(b/(wantB-large)-1), r.History)
	}
	_ = math.Abs
}
