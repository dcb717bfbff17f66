package batch

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"unicode/utf8"

	"skinstock/mesh/finding"
	"skinstock/report"
	"skinstock/report/html"
)

// Schema names the form of a line of results.jsonl. Fields may be added within v1.
const Schema = "skinstock/batch/v1"

// Record is the result of one part: a line of results.jsonl.
type Record struct {
	Schema    string `json:"schema"`
	Part      string `json:"part"`
	PartBytes []byte `json:"part_bytes,omitempty"` // the name's bytes in base 64, where it is not UTF-8
	Output    string `json:"output"`               // where the grown part goes, below the output folder
	OutBytes  []byte `json:"output_bytes,omitempty"`
	Key       string `json:"key"`       // digest of all that the result depends on; empty when the part was not read
	Outcome   string `json:"outcome"`   // done, findings or failed
	ExitCode  int    `json:"exit_code"` // as of the command on this part alone
	Error     string `json:"error,omitempty"`

	Figures *Figures `json:"figures,omitempty"`
	Files   []File   `json:"files"`
}

// File is a file that was written, relative to the output folder.
type File struct {
	Kind   string `json:"kind"` // output, json, report, finished, thumbnail
	Path   string `json:"path"`
	Raw    []byte `json:"path_bytes,omitempty"` // where the path is not UTF-8
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
}

// Figures are what the tables of a batch show of a part.
type Figures struct {
	Recipe       string        `json:"recipe"`
	Assumed      bool          `json:"assumed"` // the recipe holds values that nobody measured
	BuildDir     report.Point  `json:"build_dir"`
	Units        string        `json:"units"`
	Triangles    int           `json:"triangles"`
	SizeMM       report.Point  `json:"size_mm"`
	AreaMM2      report.Number `json:"area_mm2"`
	VolumeMM3    report.Number `json:"volume_mm3"`
	GrownMM3     report.Number `json:"grown_volume_mm3"`
	AllowanceUM  report.Range  `json:"allowance_um"` // least and greatest of all skins, mean by area
	TimeMin      report.Number `json:"time_min"`
	CurrentA     report.Number `json:"current_a"`
	AddedG       report.Number `json:"mass_added_g"`
	RemovedG     report.Number `json:"mass_removed_g"`
	Verified     bool          `json:"verified"`
	ShortfallUM  report.Number `json:"shortfall_max_um"`
	ExcessP99UM  report.Number `json:"excess_p99_um"`
	Verdict      string        `json:"verdict"`       // whether the grown part finishes on size
	Level        html.Level    `json:"verdict_level"` // good, info, warning or error
	Reason       string        `json:"reason,omitempty"`
	Errors       int           `json:"errors"` // findings by severity
	Warnings     int           `json:"warnings"`
	Infos        int           `json:"infos"`
	InputSHA256  string        `json:"input_sha256"`
	RecipeSHA256 string        `json:"recipe_sha256"`
}

// FiguresOf takes the figures from a report.
func FiguresOf(d *report.Document) *Figures {
	f := &Figures{
		Recipe: d.Recipe.Name, Assumed: len(d.Recipe.Assumed) > 0, BuildDir: d.BuildDir,
		Units: d.Input.Units, Triangles: d.Input.Triangles, AreaMM2: d.Input.AreaMM2, VolumeMM3: d.Input.VolumeMM3,
		InputSHA256: d.Input.SHA256, RecipeSHA256: d.Recipe.SHA256,
	}
	for k := range f.SizeMM {
		f.SizeMM[k] = d.Input.BboxMM[1][k] - d.Input.BboxMM[0][k]
	}
	if d.Output != nil {
		f.GrownMM3 = d.Output.VolumeMM3
	}
	if b := d.Bath; b != nil {
		f.TimeMin, f.CurrentA, f.AddedG, f.RemovedG = b.TimeMin, b.CurrentA, b.MassAddedG, b.MassRemovedG
	}
	f.allowance(d.Skins)
	if v := d.Verify; v != nil {
		f.Verified, f.ShortfallUM, f.ExcessP99UM = true, v.ShortfallUM.Max, v.ExcessUM.P99
	}
	v := report.VerdictOf(d)
	f.Verdict, f.Level = v.Word, v.Level
	if len(v.Reasons) > 0 {
		f.Reason = v.Reasons[0]
	}
	for _, x := range d.Findings {
		switch x.Severity {
		case finding.Error:
			f.Errors++
		case finding.Warning:
			f.Warnings++
		default:
			f.Infos++
		}
	}
	return f
}

func (f *Figures) allowance(skins []report.Skin) {
	area := report.Number(0)
	for i, s := range skins {
		a := s.AllowanceUM
		if i == 0 {
			f.AllowanceUM.Min, f.AllowanceUM.Max = a.Min, a.Max
		}
		f.AllowanceUM.Min, f.AllowanceUM.Max = min(f.AllowanceUM.Min, a.Min), max(f.AllowanceUM.Max, a.Max)
		f.AllowanceUM.Mean += report.Number(float64(a.Mean * s.AreaMM2))
		area += s.AreaMM2
	}
	if area > 0 {
		f.AllowanceUM.Mean /= area
	}
}

// Outcomes of a part.
const (
	Done     = "done"
	Findings = "findings" // done, but a finding reached fail_on
	Failed   = "failed"
)

func outcomeOf(code int) string {
	switch code {
	case 0:
		return Done
	case 1:
		return Findings
	}
	return Failed
}

// finished tells whether the part need not be done again.
func (r *Record) finished() bool { return r.Outcome == Done || r.Outcome == Findings }

// newRecord begins the record of a part, whose name need not be UTF-8, as file names on Unix need not be.
func newRecord(p Part) *Record {
	r := &Record{Schema: Schema, Files: []File{}}
	r.Part, r.PartBytes = textAndBytes(p.Name)
	r.Output, r.OutBytes = textAndBytes(p.Output)
	return r
}

// id tells the parts of a batch apart: one file may be done in several ways.
func (r *Record) id() string { return nameOf(r.Output, r.OutBytes) + "\x00" + r.name() }

func idOf(p Part) string { return p.Output + "\x00" + p.Name }

// name returns the part's name as it is.
func (r *Record) name() string { return nameOf(r.Part, r.PartBytes) }

func (f *File) path() string { return nameOf(f.Path, f.Raw) }

func textAndBytes(name string) (string, []byte) {
	if utf8.ValidString(name) {
		return name, nil
	}
	return fmt.Sprintf("%+q", name), []byte(name)
}

func nameOf(text string, raw []byte) string {
	if raw != nil {
		return string(raw)
	}
	return text
}

// Key digests all that a part's result depends on: the part's and the recipe's
// content, the program's version, the settings, and what other files the
// settings name hold.
func Key(p Part, inputSHA256, recipeSHA256, version string, more ...string) string {
	s := p.Settings
	s.Recipe = recipeSHA256
	name, raw := textAndBytes(p.Name) // the output carries the part's name
	data, err := json.Marshal(struct {
		Name     string
		Raw      []byte
		Input    string
		Version  string
		Settings Settings
		More     []string
	}{name, raw, inputSHA256, version, s, more})
	if err != nil {
		panic(err) // texts and numbers alone
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}
