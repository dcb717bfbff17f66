package html

import (
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"skinstock/report/chart"
)

// Page is the content of a report.
type Page struct {
	Part, Recipe string // names as given
	Version      string // of the program
	Stamp        string // date, only when it was asked for
	Summary      string // what was done, in a sentence

	Verdict  Verdict
	Figures  []Figure  // the numbers to know first
	Views    []Picture // of the part as it is; a page has views or pairs
	Pairs    []Pair
	Legends  []Picture // of the pictures in Views or Pairs
	Maps     []Map     // further views, such as maps of deviation
	Turn     *Turntable
	Sections []Drawing
	Charts   []*chart.Chart
	Findings []Finding
	Tables   []Table // bath sheet, recipe and others, in this order
	Cautions []string
	Files    []File
}

// Level tells how grave something is.
type Level string

// Levels, least first. Their names are shown beside the colour.
const (
	Good    Level = "good"
	Info    Level = "info"
	Warning Level = "warning"
	Error   Level = "error"
)

// Verdict is the outcome in a word and the reasons for it.
type Verdict struct {
	Word    string
	Level   Level
	Reasons []string
}

// Figure is a number with its unit.
type Figure struct {
	Label, Value, Unit string
	Note               string
	Assumed            bool // rests on assumed values
}

// Picture is a PNG file with its alternative text.
type Picture struct {
	Title, Alt    string
	PNG           []byte
	Width, Height int
	Pins          []Pin
}

// Pin links a place of a picture to a finding; X and Y are shares of its sides.
type Pin struct {
	Number int
	X, Y   float64
}

// Pair is a view before and after, with one camera.
type Pair struct {
	Name          string
	Before, After Picture
}

// Map is a property of the surface in several views, with its legend.
type Map struct {
	Title    string
	Pictures []Picture
	Legend   Picture
}

// Drawing is an SVG drawing made by this program.
type Drawing struct {
	Title string
	SVG   string
}

// Finding is a row of the findings table. Number is its pin, 0 for none.
type Finding struct {
	Number                         int
	Level                          Level
	Code, Message, Remedy, At, Siz string
	Count                          int
}

// Table is a table of texts. The first column heads its row.
type Table struct {
	Title, Note string
	Head        []string
	Rows        []Row
}

// Row is a row of a table; Assumed marks it as resting on an assumed value.
type Row struct {
	Cells   []string
	Assumed bool
}

// File is a file of the run with its digest.
type File struct{ Role, Name, SHA256 string }

//go:embed page.tmpl base.css page.css page.js
var assets embed.FS

// BaseStyle is the style that all pages of the program begin with: colours by
// day and by night, and what follows from them.
//
//go:embed base.css
var BaseStyle string

// Write writes the page.
func (p *Page) Write(w io.Writer) error {
	t, err := template.New("page.tmpl").Funcs(template.FuncMap{
		"png":     dataURI,
		"svg":     func(s string) template.HTML { return template.HTML(s) }, // drawn and escaped by this program
		"clean":   clean,
		"percent": func(v float64) string { return fmt.Sprintf("%.2f", 100*v) },
		"asset":   asset,
		"short":   short,
		"id":      func(s string, i int) string { return fmt.Sprintf("%s-%d", s, i) },
	}).ParseFS(assets, "page.tmpl")
	if err != nil {
		return fmt.Errorf("reading the page's template: %w", err)
	}
	if err := t.Execute(w, p); err != nil {
		return fmt.Errorf("writing the report page: %w", err)
	}
	return nil
}

// dataURI returns a PNG file as an address that needs no network.
func dataURI(b []byte) template.URL {
	return template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(b))
}

// asset returns an embedded file as trusted style or script.
func asset(name string) (any, error) {
	b, err := assets.ReadFile(name)
	if err != nil {
		return nil, err
	}
	if strings.HasSuffix(name, ".css") {
		return template.CSS(b), nil
	}
	return template.JS(b), nil
}

// longestWord is how many letters a word may have for its cell to keep it whole.
const longestWord = 20

// short tells whether a cell's words may be kept whole: those of this program
// are, but a name in a file may be one word of any length.
func short(s string) bool {
	for _, w := range strings.Fields(s) {
		if utf8.RuneCountInString(w) > longestWord {
			return false
		}
	}
	return true
}

// maxText bounds a text of the page; names in files can be of any length.
const maxText = 12000

// clean drops control and direction marks from a text and cuts it at a length
// no honest name has. The template escapes what is left.
func clean(s string) string {
	n := 0
	s = strings.Map(func(r rune) rune {
		if n++; n > maxText {
			return -1
		}
		if r == '\n' || r == '\t' {
			return ' '
		}
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) {
			return -1
		}
		return r
	}, s)
	if n > maxText {
		s += "…"
	}
	return s
}
