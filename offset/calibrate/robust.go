package calibrate

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// huberK is where Huber's weight begins to fall, in standard deviations: 95 %
// as good as plain least squares on normal scatter (Huber, Robust Statistics, 1981).
const huberK = 1.345

// madToSigma makes the median absolute deviation of normal scatter a standard deviation.
const madToSigma = 1.4826

// errUndetermined is returned when the coupons leave a parameter open.
var errUndetermined = errors.New("the coupons do not determine it")

// model gives residuals and their derivatives by the parameters (n x p) at a point.
type model func(p []float64) (resid []float64, jac *mat.Dense)

// solution is a robust fit.
type solution struct {
	p      []float64
	cov    *mat.SymDense // covariance of p
	sigma  float64       // scatter of the residuals
	resid  []float64
	weight []float64 // Huber weight of each residual, 1 for one that is not turned down
	dof    int
	cost   float64 // Huber's loss
}

// fit minimises Huber's loss by reweighted Gauss-Newton steps with halving.
func fit(f model, start []float64) (*solution, error) {
	p := slices.Clone(start)
	r, j := f(p)
	n, np := len(r), len(p)
	if n <= np {
		return nil, errUndetermined
	}
	sigma := scale(r, np)
	for range 200 {
		step, err := gaussNewton(r, j, weights(r, sigma))
		if err != nil {
			return nil, err
		}
		next, moved := descend(f, p, step, r, sigma)
		p = next
		r, j = f(p)
		old := sigma
		sigma = scale(r, np)
		if moved < 1e-10 && math.Abs(sigma-old) <= 1e-10*old {
			break
		}
	}
	s := &solution{p: p, resid: r, sigma: sigma, weight: weights(r, sigma), dof: n - np}
	s.cost = loss(r, sigma) * sigma * sigma
	var err error
	s.cov, err = covariance(r, j, sigma)
	return s, err
}

// scale returns the robust standard deviation of residuals around 0; never 0,
// so that an exact fit can be weighted too.
func scale(r []float64, np int) float64 {
	a := make([]float64, len(r))
	var most float64
	for i, x := range r {
		a[i] = math.Abs(x)
		most = math.Max(most, a[i])
	}
	slices.Sort(a)
	// np residuals are nearly 0 because the fit bends to them: leave them out.
	a = a[min(np, len(a)-1):]
	s := madToSigma * median(a)
	return math.Max(s, math.Max(1e-12, 1e-9*most))
}

func median(sorted []float64) float64 {
	n := len(sorted)
	if n%2 == 1 {
		return sorted[n/2]
	}
	return (sorted[n/2-1] + sorted[n/2]) / 2
}

func weights(r []float64, sigma float64) []float64 {
	w := make([]float64, len(r))
	for i, x := range r {
		w[i] = 1
		if a := math.Abs(x) / sigma; a > huberK {
			w[i] = huberK / a
		}
	}
	return w
}

// loss is Huber's, in units of sigma squared.
func loss(r []float64, sigma float64) float64 {
	var sum float64
	for _, x := range r {
		if a := math.Abs(x) / sigma; a <= huberK {
			sum += a * a / 2
		} else {
			sum += huberK * (a - huberK/2)
		}
	}
	return sum
}

// gaussNewton solves J dp = -r by weighted least squares.
func gaussNewton(r []float64, j *mat.Dense, w []float64) ([]float64, error) {
	n, np := j.Dims()
	a, b := mat.NewDense(n, np, nil), mat.NewVecDense(n, nil)
	for i := range n {
		s := math.Sqrt(w[i])
		for k := range np {
			a.Set(i, k, s*j.At(i, k))
		}
		b.SetVec(i, -s*r[i])
	}
	var qr mat.QR
	qr.Factorize(a)
	if c := qr.Cond(); !(c < 1e8) {
		return nil, errUndetermined
	}
	var x mat.VecDense
	if err := qr.SolveVecTo(&x, false, b); err != nil {
		return nil, errUndetermined
	}
	return x.RawVector().Data, nil
}

// descend goes along a step, halved until the loss falls, and returns how far it went.
func descend(f model, p, step, r []float64, sigma float64) (next []float64, moved float64) {
	before := loss(r, sigma)
	t := 1.0
	for range 40 {
		next = slices.Clone(p)
		moved = 0
		for k := range p {
			d := t * math.Max(-2, math.Min(2, step[k])) // logarithms: a factor of 7 at most
			next[k] += d
			moved = math.Max(moved, math.Abs(d))
		}
		if rn, _ := f(next); loss(rn, sigma) <= before {
			return next, moved
		}
		t /= 2
	}
	return p, 0
}

// covariance returns that of Huber's estimator (Huber 1981, 7.6): the scatter
// of the clipped residuals over the share that is not clipped, with the
// small-sample factor, times the inverse of J'J.
func covariance(r []float64, j *mat.Dense, sigma float64) (*mat.SymDense, error) {
	n, np := j.Dims()
	var psi2, inside float64
	for _, x := range r {
		if a := math.Abs(x); a <= huberK*sigma {
			psi2 += x * x
			inside++
		} else {
			psi2 += huberK * huberK * sigma * sigma
		}
	}
	m := inside / float64(n)
	if m == 0 {
		return nil, errUndetermined
	}
	k := 1 + float64(np)/float64(n)*(1-m)/m
	v := k * k * psi2 / float64(n-np) / (m * m)
	var jtj mat.SymDense
	jtj.SymOuterK(1, j.T())
	var ch mat.Cholesky
	if ok := ch.Factorize(&jtj); !ok {
		return nil, errUndetermined
	}
	var cov mat.SymDense
	if err := ch.InverseTo(&cov); err != nil {
		return nil, errUndetermined
	}
	cov.ScaleSym(v, &cov)
	return &cov, nil
}

// half returns half the width of the 95 % interval of parameter k.
func (s *solution) half(k int) float64 {
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(s.dof)}.Quantile(0.975)
	return t * math.Sqrt(s.cov.At(k, k))
}

// outlierAt is how many robust standard deviations make an outlier: of a
// thousand good coupons, one in two tables of that size is named in vain.
const outlierAt = 3.5

func (s *solution) outlier(i int) bool { return math.Abs(s.resid[i]) > outlierAt*s.sigma }
