package orient

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"skinstock/mesh"
	"skinstock/region"
)

// Defaults of Options, used for fields that are zero.
const (
	DefaultDirections = 2500
	DefaultBest       = 5
	DefaultApart      = 15 * s1.Degree
	DefaultCritical   = 45 * s1.Degree // smallest downskin angle built without supports, as design guides state it (references.md section 1)
)

// Cost is what the process makes of a tally.
type Cost struct {
	TimeMin   float64 // bath time
	AddedMM3  float64 // stock added
	RemovalUM float64 // what the skin that sets the time calls for
	Governs   string  // what sets the time
}

// ErrUnfit is wrapped by what Options.Cost returns for a direction in which the
// process cannot treat the part; it is ranked last.
var ErrUnfit = errors.New("this direction cannot be treated")

// Weights say how much each share counts in a score.
type Weights struct{ Time, Added, Downskin, Flat, Height float64 }

// DefaultWeights count time, stock and what needs support alike, and the
// height of the build a quarter as much.
var DefaultWeights = Weights{Time: 1, Added: 1, Downskin: 1, Flat: 1, Height: 0.25}

// Options says how directions are ranked.
type Options struct {
	Directions   int      // even over the sphere
	Best         int      // directions tried on the real mesh
	Apart        s1.Angle // least angle between two of the best
	VerticalFrom s1.Angle // as in region.Options
	Critical     s1.Angle // downskin flatter than this needs support
	MinIslandMM2 float64  // as in region.Options; on the histogram, a skin smaller than this counts as vertical
	Weights      *Weights // nil for DefaultWeights

	// Cost turns a tally into time and stock; nil leaves both zero. It is called
	// by several goroutines.
	Cost func(Tally) (Cost, error)

	// Current is a direction to be scored beside the others; zero for none.
	Current r3.Vector

	// Masked marks facets that the bath does not wet; nil for none. They are
	// printed, but cost neither time nor stock.
	Masked []bool

	// EnvelopeMM is the length, width and height of the build space; zero for no
	// limit. Directions in which the part does not fit are ranked after those in
	// which it does.
	EnvelopeMM [3]float64

	// OnPlatform and PlatformTolMM are as in region.Options, on the real mesh only.
	OnPlatform    bool
	PlatformTolMM float64

	Workers int // goroutines; 0 for one a processor. The result does not depend on it
}

// Candidate is a build direction with what it costs.
type Candidate struct {
	Dir   r3.Vector // unit
	Tally Tally
	Cost  Cost
	Score float64 // 0 is best; each share is of the worst direction sampled
	Exact bool    // tallied on the real mesh, not on the histogram

	FootprintMM [2]float64 // sides of the smallest rectangle it stands in, longer first; zero in Sampled without an envelope
	Fits        bool       // the build goes into the envelope
	Unfit       string     // why the process cannot treat the part so; empty when it can
}

// Ranking is the directions of a part in order.
type Ranking struct {
	Best    []Candidate // on the real mesh, best first
	Current *Candidate  // on the real mesh; nil when none was given
	Pareto  []Candidate // no other direction sampled is both quicker and lower; by time
	Sampled []Candidate // all directions in the order of sampling, for a map of the score

	// What was ranked by.
	Weights    Weights
	Critical   s1.Angle
	EnvelopeMM [3]float64
}

// ErrEmpty is returned for a part without surface.
var ErrEmpty = errors.New("the part has no surface to orient")

// Rank scores build directions. topo is the topology of m.
func Rank(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, opt Options) (*Ranking, error) {
	if err := opt.complete(); err != nil {
		return nil, err
	}
	k := &ranker{opt: opt, limits: newLimits(opt.VerticalFrom, opt.Critical), hist: NewHistogram(m, opt.Masked)}
	if len(k.hist.patches) == 0 {
		return nil, ErrEmpty
	}
	r := &Ranking{Sampled: make([]Candidate, 0, opt.Directions), Weights: *opt.Weights, Critical: opt.Critical, EnvelopeMM: opt.EnvelopeMM}
	for _, d := range slices.Concat(Even(opt.Directions), k.hist.faces()) {
		r.Sampled = append(r.Sampled, Candidate{Dir: d})
	}
	if err := k.tallyAll(ctx, r.Sampled); err != nil {
		return nil, err
	}
	k.measureWorst(r.Sampled)
	for i := range r.Sampled {
		r.Sampled[i].Score = k.score(&r.Sampled[i])
	}
	r.Pareto = pareto(r.Sampled)
	for i := range r.Pareto {
		k.stand(&r.Pareto[i])
	}
	if err := k.refine(ctx, m, topo, r); err != nil {
		return nil, err
	}
	return r, nil
}

// complete fills in defaults and tells what is wrong.
func (o *Options) complete() error {
	o.Directions = cmp.Or(o.Directions, DefaultDirections)
	o.Best = cmp.Or(o.Best, DefaultBest)
	o.Apart = cmp.Or(o.Apart, DefaultApart)
	o.Critical = cmp.Or(o.Critical, DefaultCritical)
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Weights == nil {
		w := DefaultWeights
		o.Weights = &w
	}
	w := o.Weights
	switch {
	case o.Directions < 0 || o.Best < 0:
		return fmt.Errorf("%d directions, %d best: give 1 or more", o.Directions, o.Best)
	case !(o.VerticalFrom >= 0 && o.VerticalFrom <= 90*s1.Degree) || !(o.Critical >= 0 && o.Critical <= 90*s1.Degree):
		return fmt.Errorf("vertical from %.3g, critical angle %.3g degrees: give angles from 0 to 90", o.VerticalFrom.Degrees(), o.Critical.Degrees())
	case !(min(w.Time, w.Added, w.Downskin, w.Flat, w.Height) >= 0):
		return errors.New("a weight is below 0: give 0 to leave a share out")
	}
	return nil
}

// ranker carries what the steps share.
type ranker struct {
	opt    Options
	limits *limits
	hist   *Histogram
	worst  [5]float64 // of each share over the directions sampled
}

// Even returns n unit vectors spread evenly over the sphere (points of equal
// area along a spiral by the golden angle).
func Even(n int) []r3.Vector {
	out := make([]r3.Vector, n)
	golden := math.Pi * (3 - math.Sqrt(5))
	for i := range out {
		z := 1 - (2*float64(i)+1)/float64(n)
		s, c := math.Sincos(golden * float64(i))
		r := math.Sqrt(max(0, 1-z*z))
		out[i] = r3.Vector{X: r * c, Y: r * s, Z: z}
	}
	return out
}

// mostFaces is how many of the largest faces a part is tried standing on.
const mostFaces = 32

// faces returns the axes and the normals of the largest patches, both ways.
func (h *Histogram) faces() []r3.Vector {
	out := []r3.Vector{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {Z: 1}, {Z: -1}}
	order := make([]int, len(h.patches))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(h.patches[b].area, h.patches[a].area) })
	for _, i := range order[:min(mostFaces, len(order))] {
		out = append(out, h.patches[i].normal, h.patches[i].normal.Mul(-1))
	}
	return out
}

// tallyAll tallies and costs candidates on the histogram.
func (k *ranker) tallyAll(ctx context.Context, cs []Candidate) error {
	return mesh.Spread(ctx, len(cs), 64, k.opt.Workers, func(_, lo, hi int) error {
		for i := lo; i < hi; i++ {
			if err := k.quick(&cs[i]); err != nil {
				return err
			}
		}
		return nil
	})
}

// quick tallies and costs a candidate on the histogram.
func (k *ranker) quick(c *Candidate) error {
	c.Tally = k.hist.tally(c.Dir, k.limits)
	c.Tally.join(k.opt.MinIslandMM2)
	return k.price(c)
}

// join lets skins smaller than least be vertical, as islands join what is around them.
func (t *Tally) join(least float64) {
	for _, skin := range [...]region.Skin{region.Upskin, region.Downskin} {
		if a := t.AreaMM2[skin]; a == 0 || a >= least {
			continue
		}
		t.AreaMM2[region.Vertical] += t.AreaMM2[skin]
		t.AreaMM2[skin] = 0
		for i := range t.Pieces {
			if t.Pieces[i].Skin == skin {
				t.Pieces[i].Skin = region.Vertical
			}
		}
	}
}

// stand fills in footprint and fit of a tallied candidate.
func (k *ranker) stand(c *Candidate) {
	points := k.hist.support
	if c.Exact {
		points = k.hist.reach
	}
	c.FootprintMM[0], c.FootprintMM[1] = footprint(points, c.Dir)
	c.Fits = fits(k.opt.EnvelopeMM, c.FootprintMM[0], c.FootprintMM[1], c.Tally.HeightMM)
}

// price fills in fit and cost of a tallied candidate, and its footprint where
// that counts.
func (k *ranker) price(c *Candidate) (err error) {
	if c.Fits = true; c.Exact || k.opt.EnvelopeMM != [3]float64{} {
		k.stand(c)
	}
	if k.opt.Cost == nil {
		return nil
	}
	c.Cost, err = k.opt.Cost(c.Tally)
	if errors.Is(err, ErrUnfit) {
		c.Unfit, err = err.Error(), nil
	}
	if err != nil {
		return fmt.Errorf("build direction %.4f,%.4f,%.4f: %w", c.Dir.X, c.Dir.Y, c.Dir.Z, err)
	}
	return nil
}

// shares returns what a score weighs.
func shares(c *Candidate) [5]float64 {
	return [5]float64{c.Cost.TimeMin, c.Cost.AddedMM3, c.Tally.AreaMM2[region.Downskin], c.Tally.FlatMM2, c.Tally.HeightMM}
}

func (k *ranker) measureWorst(cs []Candidate) {
	for i := range cs {
		if cs[i].Unfit != "" {
			continue
		}
		for j, s := range shares(&cs[i]) {
			k.worst[j] = max(k.worst[j], s)
		}
	}
}

// score is the weighted sum of the shares of the worst.
func (k *ranker) score(c *Candidate) float64 {
	w := [5]float64{k.opt.Weights.Time, k.opt.Weights.Added, k.opt.Weights.Downskin, k.opt.Weights.Flat, k.opt.Weights.Height}
	var sum float64
	for j, s := range shares(c) {
		if k.worst[j] > 0 {
			sum += float64(w[j] * s / k.worst[j])
		}
	}
	return sum
}

// class parts candidates: those that fit, those too large, those that cannot be treated.
func (c *Candidate) class() int {
	switch {
	case c.Unfit != "":
		return 2
	case !c.Fits:
		return 1
	}
	return 0
}

// byScore orders candidates: class, score, then direction from above.
func byScore(a, b Candidate) int {
	return cmp.Or(cmp.Compare(a.class(), b.class()), cmp.Compare(a.Score, b.Score), cmp.Compare(b.Dir.Z, a.Dir.Z), cmp.Compare(b.Dir.X, a.Dir.X), cmp.Compare(b.Dir.Y, a.Dir.Y))
}

// pareto returns the candidates that no other beats in both time and height, by time.
func pareto(cs []Candidate) []Candidate {
	all := slices.Clone(cs)
	all = slices.DeleteFunc(all, func(c Candidate) bool { return c.class() > 0 })
	slices.SortFunc(all, func(a, b Candidate) int {
		return cmp.Or(cmp.Compare(a.Cost.TimeMin, b.Cost.TimeMin), cmp.Compare(a.Tally.HeightMM, b.Tally.HeightMM), byScore(a, b))
	})
	var out []Candidate
	low := math.Inf(1)
	for _, c := range all {
		if c.Tally.HeightMM < low {
			low = c.Tally.HeightMM
			out = append(out, c)
		}
	}
	return out
}
