package batch

import (
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"net/url"
	"path/filepath"
	"strings"

	"skinstock/cmd/skinstock/internal/console"
	"skinstock/report"
	"skinstock/report/html"
)

//go:embed index.tmpl
var indexText string

//go:embed index.css
var indexStyle string

//go:embed index.js
var indexScript string

var indexTemplate = template.Must(template.New("index").Parse(indexText))

// indexPage is what the page over all parts shows.
type indexPage struct {
	Style    template.CSS
	Script   template.JS
	Parts    int
	Counts   []count
	Columns  []column
	Rows     []row
	Assumed  bool
	Cautions []string
}

type count struct {
	Value, Label string
	N            int
}

// column is one column of the table. Numbers are sorted by value.
type column struct {
	Head, Unit string
	Number     bool
}

type row struct {
	Name, Outcome, Level, Verdict, Reason string
	Links                                 []link
	Picture                               template.URL // empty for none
	Cells                                 []cellOf
}

type link struct{ Text, Of, Href string }

type cellOf struct{ Text, Sort string }

var indexColumns = []column{
	{"triangles", "", true},
	{"size", "mm", true},
	{"allowance", "µm", true},
	{"bath time", "min", true},
	{"current", "A", true},
	{"stock added", "g", true},
	{"stock short by at most", "µm", true},
	{"errors", "", true},
	{"warnings", "", true},
	{"recipe", "", false},
}

// writeIndex writes the page over all parts: one file that opens offline. It
// can be read without the script, which sorts and filters.
func (f *Folder) writeIndex(w io.Writer, records []*Record) error {
	p := indexPage{
		Style: template.CSS(html.BaseStyle + indexStyle), Script: template.JS(indexScript), Parts: len(records),
		Columns: indexColumns, Cautions: report.Cautions,
		Counts: []count{{Value: Done, Label: "done"}, {Value: Findings, Label: "done with findings"}, {Value: Failed, Label: "failed"}},
	}
	for _, r := range records {
		for i := range p.Counts {
			if p.Counts[i].Value == r.Outcome {
				p.Counts[i].N++
			}
		}
		p.Assumed = p.Assumed || r.Figures != nil && r.Figures.Assumed
		p.Rows = append(p.Rows, f.indexRow(r))
	}
	return indexTemplate.Execute(w, p)
}

func (f *Folder) indexRow(r *Record) row {
	out := row{Name: console.SafeLine(r.Part), Outcome: r.Outcome, Level: "error", Verdict: "failed", Reason: console.SafeLine(strings.TrimPrefix(r.Error, r.name()+": "))}
	for _, file := range r.Files {
		switch {
		case file.Kind == "thumbnail":
			out.Picture = f.picture(file)
		case file.Kind == "report" && filepath.Base(file.path()) != "report.html":
		default:
			out.Links = append(out.Links, link{Text: linkTexts[file.Kind], Of: out.Name, Href: href(file.path())})
		}
	}
	g := r.Figures
	if g == nil || r.Outcome == Failed {
		for _, c := range indexColumns {
			sort := ""
			if c.Number {
				sort = "-1"
			}
			out.Cells = append(out.Cells, cellOf{"–", sort})
		}
		return out
	}
	out.Level, out.Verdict, out.Reason = string(g.Level), g.Verdict, console.SafeLine(g.Reason)
	short := cellOf{"not proved", "-1"}
	if g.Verified {
		short = figure(g.ShortfallUM, 3)
	}
	out.Cells = []cellOf{
		{fmt.Sprint(g.Triangles), fmt.Sprint(g.Triangles)},
		{fmt.Sprintf("%.3g × %.3g × %.3g", float64(g.SizeMM[0]), float64(g.SizeMM[1]), float64(g.SizeMM[2])), fmt.Sprint(float64(max(g.SizeMM[0], g.SizeMM[1], g.SizeMM[2])))},
		{fmt.Sprintf("%.1f to %.1f", float64(g.AllowanceUM.Min), float64(g.AllowanceUM.Max)), fmt.Sprint(float64(g.AllowanceUM.Max))},
		figure(g.TimeMin, 3), figure(g.CurrentA, 3), figure(g.AddedG, 3), short,
		{fmt.Sprint(g.Errors), fmt.Sprint(g.Errors)},
		{fmt.Sprint(g.Warnings), fmt.Sprint(g.Warnings)},
		{console.SafeLine(g.Recipe), ""},
	}
	return out
}

var linkTexts = map[string]string{"output": "grown part", "json": "figures", "report": "report", "finished": "predicted finish"}

func figure(n report.Number, digits int) cellOf {
	return cellOf{fmt.Sprintf("%.*g", digits, float64(n)), fmt.Sprint(float64(n))}
}

// href is a path below the output folder as a link from it.
func href(path string) string {
	words := strings.Split(filepath.ToSlash(path), "/")
	for i, w := range words {
		words[i] = url.PathEscape(w)
	}
	return "./" + strings.Join(words, "/")
}

// picture is a thumbnail as part of the page; empty when it cannot be read.
func (f *Folder) picture(file File) template.URL {
	data, err := f.root.ReadFile(file.path())
	if err != nil {
		return ""
	}
	return template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(data))
}
