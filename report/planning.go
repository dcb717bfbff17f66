package report

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"skinstock/offset/recipe"
	"skinstock/offset/removal"
)

// Planning is what plan adds to the document: how each figure comes about, and
// what the recipe's doubts mean.
type Planning struct {
	Sheet          *removal.Sheet      `json:"sheet"`
	Stages         []removal.StagePlan `json:"stages"`
	Bath           removal.Bath        `json:"bath"`
	Tolerance      *removal.Band       `json:"tolerance,omitempty"`
	Sensitivity    []removal.Swing     `json:"sensitivity,omitempty"`
	SwingShare     Number              `json:"sensitivity_share,omitempty"`
	Fatigue        []removal.Fatigue   `json:"fatigue,omitempty"`
	FatigueCaution string              `json:"fatigue_caution,omitempty"`
}

// WriteText writes the shop-floor sheet and the tables asked for.
func (p *Planning) WriteText(w io.Writer) error {
	t := &tables{w: w}
	for _, g := range p.Sheet.Groups {
		t.begin(g.Title)
		for _, l := range g.Lines {
			t.row(l.Label, sig(l.Value, 4)+" "+l.Unit, l.How, sourceMark(l.Source))
		}
	}
	if p.Tolerance != nil {
		t.tolerance(p.Tolerance)
	}
	if p.Sensitivity != nil {
		t.sensitivity(p.Sensitivity, float64(p.SwingShare))
	}
	if p.Fatigue != nil {
		t.fatigue(p.Fatigue, p.FatigueCaution)
	}
	t.end()
	return t.err
}

// tables writes titled tables one below the other.
type tables struct {
	w   io.Writer
	tw  *tabwriter.Writer
	err error
}

func (t *tables) begin(title string) {
	t.end()
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.w, "\n%s\n", title)
	}
	t.tw = tabwriter.NewWriter(t.w, 0, 0, 2, ' ', 0)
}

func (t *tables) row(cells ...string) {
	if t.err == nil {
		_, t.err = fmt.Fprintln(t.tw, "  "+strings.Join(cells, "\t"))
	}
}

func (t *tables) end() {
	if t.tw != nil && t.err == nil {
		t.err = t.tw.Flush()
	}
}

// sourceMark says how far a figure is to be trusted.
func sourceMark(s recipe.Source) string {
	if s == "" {
		return "from the part"
	}
	return string(s)
}

// textContributions is how many causes of the band the terminal shows.
const textContributions = 5

func (t *tables) tolerance(b *removal.Band) {
	title := "band of finished sizes, +- um"
	if b.Wanted != nil {
		title += fmt.Sprintf("; wanted +- %s um (%s)", sig(b.Wanted.HalfUM, 3), b.Wanted.Name)
	}
	t.begin(title)
	t.row("between faces of", "root sum of squares", "worst case", "with the print's own accuracy", "")
	for _, s := range b.Sizes {
		verdict := string(s.Verdict)
		if s.ITGrade > 0 {
			verdict = strings.TrimSpace(fmt.Sprintf("%s (about IT%d)", verdict, s.ITGrade))
		}
		t.row(fmt.Sprintf("%s and %s", s.From, s.To), sig(s.RSSUM, 3), sig(s.WorstUM, 3), sig(s.WithPrintUM, 3), verdict)
	}
	t.begin("what widens the band most")
	for i, c := range b.Contributions {
		if i == textContributions {
			break
		}
		t.row(c.Path, fmt.Sprintf("%s +- %s %s", sig(c.Value, 4), sig(c.Uncertainty, 3), c.Unit), string(c.Source))
	}
}

// textSwings is how many rows of the sensitivity table the terminal shows.
const textSwings = 10

func (t *tables) sensitivity(swings []removal.Swing, share float64) {
	t.begin(fmt.Sprintf("sensitivity: each value %s %% lower / higher", sig(100*share, 3)))
	t.row("value", "mean allowance um", "bath time min", "mass off g", "")
	for i, s := range swings {
		if i == textSwings {
			t.row(fmt.Sprintf("... and %d more in the JSON report", len(swings)-i))
			break
		}
		pair := func(f func(removal.Move) float64) string { return change(s.Low, f) + " / " + change(s.High, f) }
		t.row(fmt.Sprintf("%s = %s %s", s.Path, sig(s.Value, 4), s.Unit),
			pair(func(m removal.Move) float64 { return m.AllowanceUM }), pair(func(m removal.Move) float64 { return m.TimeMin }),
			pair(func(m removal.Move) float64 { return m.MassG }), string(s.Source))
	}
}

func change(m removal.Move, f func(removal.Move) float64) string {
	if m.Unreached {
		return "no plan"
	}
	return fmt.Sprintf("%+.3g", f(m))
}

func (t *tables) fatigue(fs []removal.Fatigue, caution string) {
	t.begin("fatigue, an indication only")
	t.row("skin", "defect printed um", "defect finished um", "amplitude MPa", "")
	for _, f := range fs {
		t.row(f.Skin.String(), sig(f.BeforeUM, 3), sig(f.AfterUM, 3), fmt.Sprintf("%s to %s", sig(f.BeforeMPa, 3), sig(f.AfterMPa, 3)), "x "+sig(f.Ratio, 3))
	}
	t.begin(caution)
}
