package report

import (
	"fmt"
	"io"

	"skinstock/offset/calibrate"
)

// WriteCalibration writes what coupons said, for a terminal.
func WriteCalibration(w io.Writer, res *calibrate.Result) error {
	t := &tables{w: w}
	t.begin("fitted to coupons: recipe " + res.Recipe.Name)
	t.row("value", "", "95 % interval", "coupons", "scatter of one coupon")
	for _, p := range res.Parameters {
		t.row(p.Label, sig(p.Value, 4)+" "+p.Unit, sig(p.Lo, 4)+" to "+sig(p.Hi, 4), fmt.Sprint(p.Coupons), sig(p.ScatterPct, 2)+" %")
	}
	if len(res.Outliers) > 0 {
		t.begin("outliers, turned down in the fit: look at these coupons again")
		t.row("coupon", "line", "fit", "measured", "fitted", "off by")
		for _, r := range res.Outliers {
			t.row(r.ID, fmt.Sprint(r.Line), r.Fit, sig(r.Observed, 4), sig(r.Predicted, 4), sig(r.Sigmas, 2)+" standard deviations")
		}
	}
	t.end()
	if len(res.Notes) > 0 {
		t.begin("notes")
		for _, n := range res.Notes {
			t.row(n)
		}
		t.end()
	}
	return t.err
}
