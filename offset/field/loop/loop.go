package loop

import (
	"context"
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/offset/field"
)

// Grow moves the surface of m outwards so that facet f has stockMM[f] of stock
// and returns the new vertices.
type Grow func(ctx context.Context, m *mesh.Mesh, stockMM []float64) ([]r3.Vector, error)

// Options of Run.
type Options struct {
	// RemovalMM is the depth D the bath takes where the factor is 1, mm.
	RemovalMM float64

	// Field are the options of every solution; its strip is set by the removal
	// where it is 0. Facets it insulates lose nothing and get no stock; Grow must
	// leave them where they are. Not with Refine, whose facets are not known before.
	Field field.Options

	// Grow is the rule that adds stock; nil takes Shift.
	Grow Grow

	// Refine cuts the facets to the size of the panels first: coarse faces cannot carry a local stock.
	Refine bool

	// MostMM bounds the stock of a facet, for the printer's sake; 0 means 4 times the removal.
	MostMM float64

	// Rounds bounds the corrections; 0 means 5.
	Rounds int

	// Steps divides the removal; the field of each step is that of the surface half-way
	// through it. 0 takes one for each StepMM of removal, 3 at most. They share
	// the panels of Field.
	Steps int

	Progress func(done float64) // may be nil
}

// Deviation of a predicted finished surface from nominal, mm, positive where metal is left.
type Deviation struct {
	RMS, P95, Max    float64 // of the size, over the area away from sharp edges
	EdgeP95, EdgeMax float64 // of what is missing beside sharp edges
	EdgeRadius       float64 // predicted radius of sharp edges, from what they lose beyond their faces: the middle over the length of those sharper than 120 degrees
	EdgeRadiusP95    float64 // and what 95 % of their length stay below
}

// off is what the loop lowers. The mean counts too: where more than a twentieth of the
// area cannot come out on nominal, P95 stands still while the rest gets there.
func (d *Deviation) off() float64 { return d.P95 + d.RMS }

// Result of Run.
type Result struct {
	Nominal       *mesh.Mesh  // the part, refined where that was asked for: its Source names the part's facets
	StockMM       []float64   // per facet of Nominal
	Grown         *mesh.Mesh  // Nominal with its stock
	Finished      *mesh.Mesh  // as predicted after the bath
	Signed        []float64   // deviation of Finished from Nominal per facet, mm, positive where metal is left
	Beside        []bool      // per facet: within reach of a sharp edge, three removals
	Dry           []bool      // per facet: insulated; nil for none
	Uniform       Deviation   // what the same stock everywhere would have given
	UniformSigned []float64   // its deviation per facet
	History       []Deviation // after each correction; the best is the result
	Best          int         // index in History
	Capped        int         // facets whose stock met MostMM
	Factor        []float64   // local factor per facet of Nominal, mean over the steps
	Panels        int         // of the last step
}

// Run grows m, predicts what the bath leaves, and corrects the stock until the deviation stops falling.
func Run(ctx context.Context, m *mesh.Mesh, opt Options) (*Result, error) {
	if err := opt.fill(); err != nil {
		return nil, err
	}
	if opt.Refine {
		var err error
		if m, err = field.Refine(ctx, m, opt.Field); err != nil {
			return nil, err
		}
	}
	j := newJudge(m, opt.RemovalMM, opt.Field.Workers)
	j.dry = opt.Field.Insulated
	r := &Result{Nominal: m, Beside: j.beside, Dry: j.dry}
	stock := make([]float64, len(m.Facets))
	for f := range stock {
		if j.dry == nil || !j.dry[f] {
			stock[f] = opt.RemovalMM
		}
	}
	var c corrections
	var t *attempt
	for round := 0; round <= opt.Rounds; round++ {
		var err error
		if t, err = try(ctx, m, stock, t, &opt); err != nil {
			return nil, fmt.Errorf("round %d: %w", round, err)
		}
		if opt.Progress != nil {
			opt.Progress(float64(round+1) / float64(opt.Rounds+1))
		}
		d, size, above := j.judge(t)
		if round == 0 {
			r.Uniform, r.UniformSigned = d, size
		} else {
			r.History = append(r.History, d)
		}
		n := len(r.History)
		best := n <= 1 || d.off() < r.History[r.Best].off()
		if best {
			r.Best = max(0, n-1)
			r.StockMM = append(r.StockMM[:0], stock...)
			r.Grown, r.Finished, r.Signed, r.Factor, r.Panels = t.grown, t.finished, size, t.factor, t.panels
		}
		if n > 1 && d.off() > 0.9*r.History[n-2].off() {
			break // it has stopped falling
		}
		c.correct(stock, even(m, j.around, above, j.dry), opt.MostMM)
		level(stock, even(m, j.around, stock, j.dry))
	}
	for _, s := range r.StockMM {
		if s >= opt.MostMM {
			r.Capped++
		}
	}
	return r, nil
}

// corrections remembers what each facet was corrected for.
type corrections struct {
	last []float64 // what was left over, mm
	gain []float64
}

// settling is the share of its last deviation to which a facet has to come down,
// or its corrections are halved: the stock of a sliver may hardly move the
// surface, and would run away.
const settling = 0.7

// correct takes what is left over on a facet off its stock, within 0 and most.
func (c *corrections) correct(stock, left []float64, most float64) {
	first := c.last == nil
	if first {
		c.gain = make([]float64, len(left))
		for f := range c.gain {
			c.gain[f] = 1
		}
	}
	for f, e := range left {
		if !first && math.Abs(e) > settling*math.Abs(c.last[f]) {
			c.gain[f] /= 2
		}
		stock[f] = math.Max(0, math.Min(most, stock[f]-c.gain[f]*e))
	}
	c.last = left
}

// jutting is how far, as a factor, a facet's stock may stand above the mean around it.
const jutting = 1.25

// level cuts stock that stands alone down to what is around it, the mean by
// area: a sliver that asks for more than its neighbours would raise them all, as
// far as the slope of the stock reaches.
func level(stock, around []float64) {
	for f, s := range stock {
		stock[f] = math.Min(s, jutting*around[f])
	}
}

func (o *Options) fill() error {
	if !(o.RemovalMM > 0) {
		return errors.New("loop: the removal must be above 0 mm")
	}
	if o.Refine && o.Field.Insulated != nil {
		return errors.New("loop: refine the part before its facets are insulated")
	}
	if o.Grow == nil {
		o.Grow = func(_ context.Context, m *mesh.Mesh, stock []float64) ([]r3.Vector, error) {
			return Shift(m, stock), nil
		}
	}
	if o.MostMM <= 0 {
		o.MostMM = 4 * o.RemovalMM
	}
	if o.Rounds <= 0 {
		o.Rounds = 5
	}
	if o.Steps <= 0 {
		o.Steps = max(1, min(mostSteps, int(math.Ceil(o.RemovalMM/StepMM))))
	}
	if o.Field.StripMM == 0 {
		o.Field.StripMM = cornerStrip(o.RemovalMM, o.Field.PolarisationMM)
	}
	if o.Field.MaxPanels > 0 {
		o.Field.MaxPanels = max(o.Field.MaxPanels/o.Steps, min(o.Field.MaxPanels, leastPanels))
	}
	o.Field.Brief = true
	return nil
}
