package console

import (
	"fmt"
	"time"

	"github.com/schollz/progressbar/v3"
)

// Parts shows how many parts of many are done: a bar with rate and remaining
// time on a terminal, otherwise a line for each part.
type Parts struct {
	con     *Console
	bar     *progressbar.ProgressBar // nil unless on a terminal
	start   time.Time
	parts   int
	done    int
	weight  int64
	doneWgt int64
}

// Parts returns a display on standard error.
func (c *Console) Parts() *Parts { return &Parts{con: c} }

// Start begins with so many parts of so much weight, which goes with the time they take.
func (p *Parts) Start(parts int, weight int64) {
	p.parts, p.weight, p.start = parts, weight, time.Now()
	if !p.con.Quiet && p.con.ErrTTY {
		p.bar = progressbar.NewOptions64(max(weight, 1),
			progressbar.OptionSetWriter(p.con.Err), progressbar.OptionThrottle(100*time.Millisecond),
			progressbar.OptionClearOnFinish(), progressbar.OptionSetWidth(24), progressbar.OptionSetPredictTime(false),
			progressbar.OptionSetElapsedTime(false))
		p.bar.Describe(p.text())
		_ = p.bar.RenderBlank()
	}
}

// Part tells that a part has ended, and how.
func (p *Parts) Part(name, how string, weight int64) {
	p.done++
	p.doneWgt += weight
	switch {
	case p.con.Quiet:
	case p.bar != nil:
		p.bar.Describe(p.text())
		_ = p.bar.Set64(p.doneWgt)
	default:
		width := len(fmt.Sprint(p.parts))
		fmt.Fprintf(p.con.Err, "%*d/%d %s: %s\n", width, p.done, p.parts, SafeLine(name), SafeLine(how))
	}
}

// text is count, rate and remaining time, the last by the weight that is left.
func (p *Parts) text() string {
	s := fmt.Sprintf("%d/%d parts", p.done, p.parts)
	took := time.Since(p.start)
	if p.done == 0 || took <= 0 {
		return s
	}
	rate := float64(p.done) / took.Seconds()
	s += fmt.Sprintf(", %.3g a second", rate)
	if p.doneWgt > 0 && p.doneWgt < p.weight {
		left := time.Duration(float64(took) * float64(p.weight-p.doneWgt) / float64(p.doneWgt))
		s += ", about " + left.Round(time.Second).String() + " left"
	}
	return s
}

// Done ends and erases the bar.
func (p *Parts) Done() {
	if p.bar != nil {
		_ = p.bar.Finish()
	}
}
