package batch

import (
	"cmp"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
)

// Settings say how a part is to be done. They have the names and the words of
// the command's flags; what is left out is taken from the defaults, then from
// the command itself.
type Settings struct {
	Recipe      string    `yaml:"recipe" json:"recipe,omitempty" jsonschema:"built-in recipe or a file, relative to the job file"`
	BuildDir    Direction `yaml:"build_dir" json:"build_dir,omitempty" jsonschema:"from the first layer to the last: x, y, z, or an axis such as -y"`
	Units       string    `yaml:"units" json:"units,omitempty" jsonschema:"unit of the file's numbers: mm, cm, m, inch or um"`
	WeldTolMM   *float64  `yaml:"weld_tol_mm" json:"weld_tol_mm,omitempty" jsonschema:"widest crack to close, mm"`
	ChordUM     *float64  `yaml:"chord_um" json:"chord_um,omitempty" jsonschema:"cut large facets where the allowance inside is off by more, um; 0 leaves them whole"`
	Remesh      *bool     `yaml:"remesh" json:"remesh,omitempty" jsonschema:"rebuild the grown surface from the distance to the part"`
	AllowanceUM Allowance `yaml:"allowance_um" json:"allowance_um,omitempty" jsonschema:"fixed allowance in um: one number, or one for each skin"`
	Keep        []string  `yaml:"keep" json:"keep,omitempty" jsonschema:"zones to keep as they are, each as --keep takes it"`
	Field       string    `yaml:"field" json:"field,omitempty" jsonschema:"where the bath's current goes: none, fast or full"`
	Verify      string    `yaml:"verify" json:"verify,omitempty" jsonschema:"full: prove the result by distance; crossings: leave the proof out; off: look for nothing, do not print from it"`
	FailOn      string    `yaml:"fail_on" json:"fail_on,omitempty" jsonschema:"least severity that counts as a failure: info, warning, error or never"`
	Thumbnail   *bool     `yaml:"thumbnail" json:"thumbnail,omitempty" jsonschema:"draw a small picture for the index page"`

	// Files to write, relative to the output folder; {part} stands for the part's path without its ending.
	Output   string  `yaml:"output" json:"output,omitempty" jsonschema:"grown part, .stl, .3mf or .ply; {part} stands for the part's path without its ending"`
	JSON     *string `yaml:"json" json:"json,omitempty" jsonschema:"report as JSON; empty to leave it out"`
	Report   string  `yaml:"report" json:"report,omitempty" jsonschema:"folder for the report page and the pictures"`
	Finished string  `yaml:"finished" json:"finished,omitempty" jsonschema:"predicted finished surface, .stl; needs field: full"`
	ASCII    *bool   `yaml:"ascii" json:"ascii,omitempty" jsonschema:"write ASCII STL"`
}

// Builtin are the settings that hold where nothing else is said.
func Builtin() Settings {
	name, yes := "{part}.json", true
	return Settings{Output: "{part}-grown.stl", JSON: &name, Thumbnail: &yes}
}

// over returns s, completed from below.
func (s Settings) over(below Settings) Settings {
	s.Recipe = cmp.Or(s.Recipe, below.Recipe)
	s.BuildDir = cmp.Or(s.BuildDir, below.BuildDir)
	s.Units = cmp.Or(s.Units, below.Units)
	s.AllowanceUM = cmp.Or(s.AllowanceUM, below.AllowanceUM)
	s.Field = cmp.Or(s.Field, below.Field)
	s.Verify = cmp.Or(s.Verify, below.Verify)
	s.FailOn = cmp.Or(s.FailOn, below.FailOn)
	s.Output = cmp.Or(s.Output, below.Output)
	s.Report = cmp.Or(s.Report, below.Report)
	s.Finished = cmp.Or(s.Finished, below.Finished)
	s.WeldTolMM = cmp.Or(s.WeldTolMM, below.WeldTolMM)
	s.ChordUM = cmp.Or(s.ChordUM, below.ChordUM)
	s.Remesh = cmp.Or(s.Remesh, below.Remesh)
	if s.Keep == nil {
		s.Keep = below.Keep
	}
	s.Thumbnail = cmp.Or(s.Thumbnail, below.Thumbnail)
	s.JSON = cmp.Or(s.JSON, below.JSON)
	s.ASCII = cmp.Or(s.ASCII, below.ASCII)
	return s
}

// Direction is a build direction as the flag takes it; a job file may also
// write it as a list of three numbers.
type Direction string

// UnmarshalYAML reads a text or a list of three numbers.
func (d *Direction) UnmarshalYAML(read func(any) error) error {
	var v any
	if err := read(&v); err != nil {
		return err
	}
	if list, ok := v.([]any); ok {
		words := make([]string, len(list))
		for i, x := range list {
			n, ok := number(x)
			if !ok {
				return errors.New("build_dir: give three numbers such as [0, 0, 1], or an axis such as -y")
			}
			words[i] = strconv.FormatFloat(n, 'g', -1, 64)
		}
		*d = Direction(strings.Join(words, ","))
		return nil
	}
	s, ok := v.(string)
	if !ok || s == "" {
		return errors.New("build_dir: give three numbers such as [0, 0, 1], or an axis such as -y")
	}
	*d = Direction(s)
	return nil
}

// Allowance is fixed allowances as the flag takes them; a job file may also
// write one number, or a mapping of skins.
type Allowance string

// UnmarshalYAML reads a number, a text or a mapping from skin to number.
func (a *Allowance) UnmarshalYAML(read func(any) error) error {
	bad := errors.New("allowance_um: give um as one number, or one for each skin: {upskin: 60, vertical: 80, downskin: 150}")
	var v any
	if err := read(&v); err != nil {
		return err
	}
	if n, ok := number(v); ok {
		*a = Allowance(strconv.FormatFloat(n, 'g', -1, 64))
		return nil
	}
	if s, ok := v.(string); ok && s != "" {
		*a = Allowance(s)
		return nil
	}
	var skins yaml.MapSlice // keeps the order
	if err := read(&skins); err != nil || len(skins) == 0 {
		return bad
	}
	var pairs []string
	for _, item := range skins {
		n, ok := number(item.Value)
		if !ok {
			return bad
		}
		pairs = append(pairs, fmt.Sprintf("%v=%s", item.Key, strconv.FormatFloat(n, 'g', -1, 64)))
	}
	*a = Allowance(strings.Join(pairs, ","))
	return nil
}

func number(v any) (float64, bool) {
	switch n := v.(type) {
	case uint64:
		return float64(n), true
	case int64:
		return float64(n), true
	case int:
		return float64(n), true
	case float64:
		return n, true
	}
	return 0, false
}
