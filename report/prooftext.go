package report

import (
	"fmt"
	"math"
	"strings"
	"text/tabwriter"
)

const (
	// histogramRows is the most rows of a histogram in text, histogramBar the length of its longest bar.
	histogramRows = 16
	histogramBar  = 40
)

// proofTable writes the proof skin by skin and the histogram of the deviation,
// where the proof is all that was asked for.
func (t *textWriter) proofTable(d *Document) {
	v := d.Verify
	if t.err != nil || v == nil || d.Command != "verify" {
		return
	}
	t.line("")
	tw := tabwriter.NewWriter(t.w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(tw, "proof\tsamples\tshort, worst\tat\t99 %%\tover, 99 %%\tworst\tat\trms\t\n\t\tum\tmm\tum\tum\tum\tmm\tum\t\n")
	row := func(name string, samples int, short, over Tail, rms Number) {
		at := func(q Tail) string {
			if q.Max == 0 {
				return "-"
			}
			return fmt.Sprintf("%s, %s, %s", sig(float64(q.At[0]), 4), sig(float64(q.At[1]), 4), sig(float64(q.At[2]), 4))
		}
		um := func(n Number) string { return sig(math.Round(float64(n)*100)/100, 3) }
		fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t\n", name, grouped(samples), um(short.Max), at(short), um(short.P99), um(over.P99), um(over.Max), at(over), um(rms))
	}
	for _, s := range v.Skins {
		row(s.Skin.String(), s.Samples, s.ShortfallUM, s.ExcessUM, s.RMSUM)
	}
	row("all", v.Samples, v.ShortfallUM, v.ExcessUM, v.RMSUM)
	if t.err = tw.Flush(); t.err == nil {
		t.line("")
		t.histogram("stock over (+) or short (-), um, by area", v.Histogram)
		t.line("")
	}
}

// histogram draws a histogram with one line a step, steps taken together where there are too many.
func (t *textWriter) histogram(title string, h Histogram) {
	rows, step := h.rows(histogramRows)
	most, wide := 0.0, 0
	for _, r := range rows {
		most = math.Max(most, r.share)
		wide = max(wide, len(sig(r.from, 4)), len(sig(r.from+step, 4)))
	}
	t.line("%s", title)
	for _, r := range rows {
		bar := strings.Repeat("#", int(math.Round(histogramBar*r.share/most)))
		if bar == "" && r.share > 0 {
			bar = "." // too little for the scale, and yet there
		}
		t.line("  %*s to %*s %6.2f %%  %s", wide, sig(r.from, 4), wide, sig(r.from+step, 4), 100*r.share, bar)
	}
}

// histogramRow is the share of the area from a value on, um.
type histogramRow struct{ from, share float64 }

// rows returns at most n rows of equal step, one of which begins at zero.
func (h Histogram) rows(n int) (rows []histogramRow, step float64) {
	first := int(math.Round(float64(h.StartUM / h.StepUM))) // steps from zero
	last := first + len(h.Share) - 1
	floor := func(i, k int) int { return int(math.Floor(float64(i) / float64(k))) }
	k := 1 // steps that are taken together
	for floor(last, k)-floor(first, k)+1 > n {
		k++
	}
	step = float64(k) * float64(h.StepUM)
	for i := floor(first, k); i <= floor(last, k); i++ {
		rows = append(rows, histogramRow{from: float64(i) * step})
	}
	for i, s := range h.Share {
		rows[floor(first+i, k)-floor(first, k)].share += float64(s)
	}
	return rows, step
}
