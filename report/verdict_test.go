package report

import (
	"strings"
	"testing"

	"skinstock/mesh/finding"
	"skinstock/report/html"
)

// An assumed recipe and real trouble must read differently.
func TestVerdict(t *testing.T) {
	proof := func(within bool) *Verify { return &Verify{Within: within} }
	assumed := Finding{Code: "assumed_value", Severity: finding.Warning, Message: "53 values"}
	short := func(s finding.Severity) Finding {
		return Finding{Code: "stock_missing", Severity: s, Message: "9 um are missing"}
	}
	current := Finding{Code: "over_current", Severity: finding.Error, Message: "333 A"}
	unit := Finding{Code: "unit_doubt", Severity: finding.Warning, Message: "0.1 mm long"}
	scant := Finding{Code: "fixed_allowance", Severity: finding.Warning, Message: "150 um for 193 um"}
	mended := Finding{Code: "mended", Severity: finding.Warning, Message: "2 holes"}
	for _, c := range []struct {
		name    string
		proof   *Verify
		assumed bool
		fs      []Finding
		word    string
		level   html.Level
	}{
		{"measured and proved", proof(true), false, nil, "finishes on size", html.Good},
		{"information only", proof(true), false, []Finding{{Code: "bath_heating"}}, "finishes on size", html.Good},
		{"assumed recipe alone", proof(true), true, []Finding{assumed}, "finishes on size, if the assumed recipe holds", html.Info},
		{"two short places", proof(false), true, []Finding{assumed, short(finding.Warning), short(finding.Warning)}, "finishes on size except at 2 places, if the assumed recipe holds", html.Warning},
		{"short beyond tolerance", proof(false), false, []Finding{short(finding.Error), current}, "does not finish on size", html.Error},
		{"short, not proved", nil, true, []Finding{assumed, short(finding.Error)}, "does not finish on size", html.Error},
		{"the rectifier is too small", proof(true), true, []Finding{current, assumed}, "finishes on size, but 1 error stands against the plan, if the assumed recipe holds", html.Error},
		{"a mended file", proof(true), false, []Finding{mended}, "finishes on size, with 1 warning", html.Warning},
		{"metres read as mm", proof(true), true, []Finding{unit, assumed}, "finishes on size, the unit in doubt, if the assumed recipe holds", html.Warning},
		{"a rectifier too small for metres", proof(true), true, []Finding{current, unit, assumed}, "finishes on size, but 1 error stands against the plan, the unit in doubt, if the assumed recipe holds", html.Error},
		{"less stock by hand than computed", proof(true), true, []Finding{scant, assumed}, "carries the stock given by hand, with which it finishes undersize, if the assumed recipe holds", html.Warning},
		{"too little by hand, and a place without", proof(false), false, []Finding{scant, short(finding.Warning)}, "carries the stock given by hand except at 1 place, with which it finishes undersize", html.Warning},
		{"too little by hand, and far short of that", proof(false), false, []Finding{scant, short(finding.Error)}, "does not finish on size", html.Error},
		{"too little by hand, not proved", nil, false, []Finding{scant}, "not proved", html.Warning},
		{"more stock by hand than computed", proof(true), false, []Finding{{Code: "fixed_allowance"}}, "finishes on size", html.Good},
		{"no proof", nil, false, nil, "not proved", html.Warning},
		{"proof short without a finding", proof(false), false, nil, "finishes on size except where the proof names it", html.Warning},
	} {
		d := &Document{Verify: c.proof, Findings: c.fs}
		if c.assumed {
			d.Recipe = Recipe{Name: "r", Values: 56, Assumed: make([]string, 53)}
		}
		v := VerdictOf(d)
		if v.Word != c.word || v.Level != c.level {
			t.Errorf("%s: %q at level %q, want %q at %q", c.name, v.Word, v.Level, c.word, c.level)
		}
		for _, f := range c.fs {
			told := strings.Contains(strings.Join(v.Reasons, "\n"), f.Code)
			if want := f.Severity > finding.Info && f.Code != "assumed_value"; told != want {
				t.Errorf("%s: reason %s told: %t, want %t", c.name, f.Code, told, want)
			}
		}
	}
}

func TestReasonsTellEachCodeOnce(t *testing.T) {
	fs := []Finding{
		{Code: "over_current", Severity: finding.Error, Message: "333 A"},
		{Code: "stock_missing", Severity: finding.Error, Message: "90 um"},
		{Code: "stock_missing", Severity: finding.Error, Message: "80 um"},
		{Code: "stock_missing", Severity: finding.Warning, Message: "5 um"},
		{Code: "assumed_value", Severity: finding.Warning, Message: "53"},
		{Code: "rebuilt", Severity: finding.Info, Message: "3"},
	}
	got := strings.Join(reasonsOf(fs), "\n")
	if want := "stock_missing: 90 um, and 2 more\nover_current: 333 A"; got != want {
		t.Errorf("reasons %q, want %q", got, want)
	}
}
