package field

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
)

// row is a line of the README's table of the field's accuracy.
type row struct{ reference, found, off string }

// accuracy is the README's table, by what was compared.
var accuracy = sync.OnceValues(func() (map[string]row, error) {
	b, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		return nil, err
	}
	_, text, ok := bytes.Cut(b, []byte("| bath field against | reference | found | error |"))
	if !ok {
		return nil, fmt.Errorf("README.md has no table of the field's accuracy")
	}
	out := map[string]row{}
	for _, l := range strings.Split(string(text), "\n")[2:] {
		c := strings.Split(l, "|")
		if len(c) != 6 {
			break
		}
		out[strings.TrimSpace(c[1])] = row{strings.TrimSpace(c[2]), strings.TrimSpace(c[3]), strings.TrimSpace(c[4])}
	}
	return out, nil
})

// documented holds a comparison against the line of the README's table that
// tells of it: the same reference, and the error within 0.05 of a percent: the last digit, and another machine's rounding.
func documented(t *testing.T, what string, got, want float64) {
	t.Helper()
	table, err := accuracy()
	if err != nil {
		t.Fatal(err)
	}
	r, ok := table[what]
	if !ok {
		return
	}
	seen.Store(what, true)
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(strings.TrimSuffix(s, " %"), 64)
		if err != nil {
			t.Fatalf("README.md, %s: %v", what, err)
		}
		return v
	}
	if math.Abs(number(r.reference)/want-1) > 1e-4 || math.Abs(number(r.found)/got-1) > 1e-3 || math.Abs(number(r.off)-100*math.Abs(got/want-1)) > 0.05 {
		t.Errorf("README.md says of %q: reference %s, found %s, error %s; it is %.6g, %.6g, %.2f %%", what, r.reference, r.found, r.off, want, got, 100*math.Abs(got/want-1))
	}
}

var late = flag.Bool("late", false, "also compute the lines of the README's table that a plain run leaves to .ci/run")

// leftToCI skips a test that computes these lines of the table, but for runs
// with -late: those whose like a plain run has too.
func leftToCI(t *testing.T, lines ...string) {
	t.Helper()
	if *late {
		return
	}
	for _, l := range lines {
		seen.Store(l, true)
	}
	t.Skip("left to runs with -late")
}

// seen are the lines of the table that a test has held up to.
var seen sync.Map

// Every line of the README's table is one that a test computes: looked at when all tests have run.
func TestMain(m *testing.M) {
	code := m.Run()
	all := flag.Lookup("test.run").Value.String() == "" && flag.Lookup("test.skip").Value.String() == "" && flag.Lookup("test.list").Value.String() == ""
	if code == 0 && all {
		table, err := accuracy()
		if err == nil && len(table) < 20 {
			err = fmt.Errorf("README.md: the table of the field's accuracy has %d lines, want all of references 6.1 to 6.6", len(table))
		}
		for what := range table {
			if _, ok := seen.Load(what); !ok {
				err = fmt.Errorf("README.md tells of %q, which no test computes", what)
			}
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
	}
	os.Exit(code)
}
