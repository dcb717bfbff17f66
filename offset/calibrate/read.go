package calibrate

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// ErrCoupons is in the chain of every error about what a coupon table says.
var ErrCoupons = errors.New("coupon table is not usable")

// Limits of a coupon table.
const (
	maxBytes    = 8 << 20
	maxRows     = 20000
	maxProblems = 20 // listed one by one
)

// Coupon is one row of a coupon table. What was not measured is NaN.
type Coupon struct {
	Line int    // in the file
	ID   string // name of the coupon, or "line N"

	InclinationDeg float64 // to the platform: 0 flat, 90 a wall
	Down           bool    // the measured face looks down

	RaBeforeUM, RzBeforeUM, RaAfterUM   float64
	ThicknessBeforeMM, ThicknessAfterMM float64
	Faces                               float64 // treated faces that the thickness lies between, 1 or 2
	MassBeforeG, MassAfterG, AreaCM2    float64
	Minutes, CurrentA                   float64

	// A row with a hole diameter is one place in a hole: nothing else of it is used.
	HoleDiameterMM, HoleDepthMM, AtDepthMM, HoleRemovalUM float64
}

// Hole tells whether the row is a place in a hole.
func (c Coupon) Hole() bool { return c.HoleDiameterMM > 0 }

// Problem is one thing wrong with a coupon table.
type Problem struct {
	Line    int
	Column  string // empty when the row as a whole is meant
	Message string
	Remedy  string
}

// String returns one line: where, what, what helps.
func (p Problem) String() string {
	s := fmt.Sprintf("line %d: ", p.Line)
	if p.Column != "" {
		s += p.Column + ": "
	}
	return s + p.Message + "; " + p.Remedy
}

// TableError is a coupon table that cannot be used.
type TableError struct {
	File     string
	Problems []Problem // in file order, at least one
	More     int       // problems beyond those listed
}

// Error returns one line a problem.
func (e *TableError) Error() string {
	lines := make([]string, 0, len(e.Problems)+1)
	for _, p := range e.Problems {
		lines = append(lines, e.File+": "+p.String())
	}
	if e.More > 0 {
		lines = append(lines, fmt.Sprintf("%s: and %d problems more", e.File, e.More))
	}
	return strings.Join(lines, "\n")
}

// Unwrap returns [ErrCoupons].
func (e *TableError) Unwrap() error { return ErrCoupons }

// column is one column of the table.
type column struct {
	name   string
	doc    string
	field  func(*Coupon) *float64
	lo, hi float64 // least and greatest value that can be
	open   bool    // lo itself cannot be
}

// columns are the numeric columns of a coupon table.
var columns = []column{
	{"inclination_deg", "angle of the measured face to the platform: 0 flat, 90 a wall", func(c *Coupon) *float64 { return &c.InclinationDeg }, 0, 90, false},
	{"ra_before_um", "Ra as built", func(c *Coupon) *float64 { return &c.RaBeforeUM }, 0, 500, true},
	{"rz_before_um", "Rz as built", func(c *Coupon) *float64 { return &c.RzBeforeUM }, 0, 3000, true},
	{"ra_after_um", "Ra after the bath", func(c *Coupon) *float64 { return &c.RaAfterUM }, 0, 500, true},
	{"thickness_before_mm", "thickness before the bath", func(c *Coupon) *float64 { return &c.ThicknessBeforeMM }, 0, 1000, true},
	{"thickness_after_mm", "thickness after the bath", func(c *Coupon) *float64 { return &c.ThicknessAfterMM }, 0, 1000, true},
	{"faces", "treated faces that the thickness lies between, 1 or 2; 2 when empty", func(c *Coupon) *float64 { return &c.Faces }, 1, 2, false},
	{"mass_before_g", "mass before the bath", func(c *Coupon) *float64 { return &c.MassBeforeG }, 0, 1e6, true},
	{"mass_after_g", "mass after the bath", func(c *Coupon) *float64 { return &c.MassAfterG }, 0, 1e6, true},
	{"area_cm2", "wetted area of the coupon", func(c *Coupon) *float64 { return &c.AreaCM2 }, 0, 1e5, true},
	{"minutes", "time in the bath", func(c *Coupon) *float64 { return &c.Minutes }, 0, 1e5, true},
	{"current_a", "mean current through the coupon", func(c *Coupon) *float64 { return &c.CurrentA }, 0, 1e6, true},
	{"hole_diameter_mm", "makes the row a place in a round blind hole of this diameter, before the bath; rows of one hole share its name under coupon", func(c *Coupon) *float64 { return &c.HoleDiameterMM }, 0, 1000, true},
	{"hole_depth_mm", "depth of the hole; empty when its bottom is far below the places measured", func(c *Coupon) *float64 { return &c.HoleDepthMM }, 0, 10000, true},
	{"at_depth_mm", "where the wall was measured, from the mouth", func(c *Coupon) *float64 { return &c.AtDepthMM }, 0, 10000, false},
	{"hole_removal_um", "depth removed from the wall there: half of what the diameter grew", func(c *Coupon) *float64 { return &c.HoleRemovalUM }, 0, 10000, true},
}

// Column is a column of a coupon table.
type Column struct {
	Name string
	Doc  string // what stands in it
	Must bool   // has to be there, filled in on every row that is not a place in a hole
}

// Columns returns all columns a coupon table may have, those it must have first.
func Columns() []Column {
	out := []Column{
		{"inclination_deg", columns[0].doc, true},
		{"side", "up or down: where the measured face looks", true},
		{"ra_before_um", columns[1].doc, true},
		{"coupon", "name of the coupon", false},
	}
	for _, c := range columns[2:] {
		out = append(out, Column{c.name, c.doc, false})
	}
	return out
}

func columnNames() []string {
	var out []string
	for _, c := range Columns() {
		out = append(out, c.Name)
	}
	return out
}

// Read reads a coupon table: comma or semicolon separated, names of the columns
// in the first row, "#" before comments, an empty cell for what was not
// measured. The name is used in messages. A table with bad rows comes back as a
// *[TableError] that names each of them; none is dropped.
func Read(name string, r io.Reader) ([]Coupon, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("reading coupon table %s: %w", name, err)
	}
	t := &reader{name: name}
	if len(data) > maxBytes {
		t.problem(1, "", "one row a coupon: is this the right file?", "the file has more than %d MiB", maxBytes>>20)
		return nil, t.err()
	}
	return t.read(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")))
}

type reader struct {
	name     string
	problems []Problem
	more     int
	head     []string
	cols     []string // columns complained about in this row
}

func (t *reader) problem(line int, col, remedy, format string, args ...any) {
	t.cols = append(t.cols, col)
	if len(t.problems) == maxProblems {
		t.more++
		return
	}
	t.problems = append(t.problems, Problem{line, col, fmt.Sprintf(format, args...), remedy})
}

func (t *reader) err() error {
	return &TableError{File: t.name, Problems: t.problems, More: t.more}
}

func (t *reader) read(data []byte) ([]Coupon, error) {
	c := csv.NewReader(bytes.NewReader(data))
	c.Comma = separator(data)
	c.Comment = '#'
	c.FieldsPerRecord = -1 // counted here, for a better message
	c.TrimLeadingSpace = true
	c.ReuseRecord = true
	var out []Coupon
	for {
		row, err := c.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			line, cause := 1, err
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				line, cause = pe.Line, pe.Err
			}
			t.problem(line, "", "write one row a coupon, quotes in pairs", "the row cannot be read: %v", cause)
			break
		}
		line, _ := c.FieldPos(0)
		if t.head == nil {
			if t.header(line, row); len(t.problems) > 0 {
				break
			}
			continue
		}
		if len(out) == maxRows {
			t.problem(line, "", "split the table", "more than %d coupons", maxRows)
			break
		}
		if cp, ok := t.row(line, row); ok {
			out = append(out, cp)
		}
	}
	if len(t.problems) == 0 && len(out) == 0 {
		t.problem(1, "", "the first row names the columns: "+strings.Join(columnNames(), ", "), "the table has no coupons")
	}
	if len(t.problems) > 0 {
		return nil, t.err()
	}
	return out, nil
}

// separator returns the separator that the first line without a comment uses.
func separator(data []byte) rune {
	s := bufio.NewScanner(bytes.NewReader(data))
	for s.Scan() {
		if l := strings.TrimSpace(s.Text()); l != "" && l[0] != '#' {
			if strings.Count(l, ";") > strings.Count(l, ",") {
				return ';'
			}
			return ','
		}
	}
	return ','
}

// header takes the names of the columns.
func (t *reader) header(line int, row []string) {
	known := columnNames()
	for _, h := range row {
		h = strings.ToLower(strings.TrimSpace(h))
		switch {
		case !slices.Contains(known, h):
			t.problem(line, "", "columns are "+strings.Join(known, ", "), "column %q is not known", h)
		case slices.Contains(t.head, h):
			t.problem(line, h, "keep one of them", "column given twice")
		}
		t.head = append(t.head, h)
	}
	if len(t.problems) > 0 {
		return
	}
	if slices.Contains(t.head, "hole_diameter_mm") { // holes alone need no roughness: asked for row by row
		return
	}
	for _, h := range known[:3] {
		if !slices.Contains(t.head, h) {
			t.problem(line, h, "add it to the first row and to every coupon", "column is missing")
		}
	}
}

// row reads one coupon.
func (t *reader) row(line int, row []string) (Coupon, bool) {
	t.cols = t.cols[:0]
	c := Coupon{Line: line, ID: fmt.Sprintf("line %d", line)}
	for _, col := range columns {
		*col.field(&c) = math.NaN()
	}
	if len(row) != len(t.head) {
		t.problem(line, "", "give every column a cell, empty if not measured; write decimals with a point", "%d cells where the first row has %d", len(row), len(t.head))
		return c, false
	}
	side := ""
	for i, cell := range row {
		cell = strings.TrimSpace(cell)
		switch h := t.head[i]; h {
		case "coupon":
			if cell != "" {
				c.ID = cell
			}
		case "side":
			side = strings.ToLower(cell)
		default:
			t.number(line, h, cell, &c)
		}
	}
	if c.Hole() || t.told("hole_diameter_mm") {
		t.hole(&c)
		return c, len(t.cols) == 0
	}
	switch side {
	case "up":
	case "down":
		c.Down = true
	default:
		t.problem(line, "side", "write up or down, for the face that was measured", "%q is not a side", side)
	}
	t.whole(&c)
	return c, len(t.cols) == 0
}

// number reads one cell.
func (t *reader) number(line int, head, cell string, c *Coupon) {
	i := slices.IndexFunc(columns, func(k column) bool { return k.name == head })
	col := columns[i]
	if cell == "" {
		return
	}
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil || math.IsNaN(v) {
		t.problem(line, head, "write 4.5 with a point, without a unit, or leave the cell empty", "%q is not a number", cell)
		return
	}
	if v < col.lo || v > col.hi || (col.open && v == col.lo) {
		low := "at least"
		if col.open {
			low = "more than"
		}
		t.problem(line, head, fmt.Sprintf("give %s %g and at most %g", low, col.lo, col.hi), "%s cannot be", cell)
		return
	}
	*col.field(c) = v
}

// hole checks the cells of a place in a hole.
func (t *reader) hole(c *Coupon) {
	for _, k := range []struct {
		col, remedy string
		v           float64
	}{
		{"at_depth_mm", "give the depth of the place below the mouth", c.AtDepthMM},
		{"hole_removal_um", "give half of what the diameter grew there", c.HoleRemovalUM},
	} {
		if math.IsNaN(k.v) && !t.told(k.col) {
			t.problem(c.Line, k.col, k.remedy, "the cell is empty in a row with hole_diameter_mm")
		}
	}
	if c.AtDepthMM > c.HoleDepthMM {
		t.problem(c.Line, "at_depth_mm", "both are measured from the mouth", "%g mm lie below the bottom at %g mm", c.AtDepthMM, c.HoleDepthMM)
	}
}

// whole checks a row's cells against each other.
func (t *reader) whole(c *Coupon) {
	has := func(v float64) bool { return !math.IsNaN(v) }
	if !has(c.InclinationDeg) && !t.told("inclination_deg") {
		t.problem(c.Line, "inclination_deg", "give the angle to the platform, 0 to 90", "the cell is empty")
	}
	if !has(c.RaBeforeUM) && !t.told("ra_before_um") {
		t.problem(c.Line, "ra_before_um", "give Ra as built", "the cell is empty")
	}
	pair := func(a, b float64, what string) {
		if has(a) != has(b) && !t.told(what+"before"+unitOf(what)) && !t.told(what+"after"+unitOf(what)) {
			t.problem(c.Line, "", "give both, or neither", "%s is given before or after only", strings.TrimSuffix(what, "_"))
		}
		if has(a) && has(b) && b >= a {
			t.problem(c.Line, what+"after"+unitOf(what), "swap the two, or leave both empty", "%g is not below %g before the bath", b, a)
		}
	}
	pair(c.ThicknessBeforeMM, c.ThicknessAfterMM, "thickness_")
	pair(c.MassBeforeG, c.MassAfterG, "mass_")
	if has(c.RzBeforeUM) && has(c.RaBeforeUM) && c.RzBeforeUM < 2*c.RaBeforeUM {
		t.problem(c.Line, "rz_before_um", "Rz is at least twice Ra", "%g um with Ra %g um cannot be", c.RzBeforeUM, c.RaBeforeUM)
	}
	if has(c.RaAfterUM) && !has(c.ThicknessAfterMM) && !(has(c.MassAfterG) && has(c.AreaCM2)) && len(t.cols) == 0 {
		t.problem(c.Line, "ra_after_um", "give thickness, or mass and area_cm2, before and after", "a finished roughness without a depth tells nothing")
	}
}

func unitOf(what string) string {
	if what == "mass_" {
		return "_g"
	}
	return "_mm"
}

// told tells whether a cell of this row has been complained about already.
func (t *reader) told(col string) bool { return slices.Contains(t.cols, col) }
