package batch

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"skinstock/offset/recipe"
)

// FormatVersion is the version of the job file's form.
const FormatVersion = 1

// maxBytes of a job file: 100,000 parts by name.
const maxBytes = 16 << 20

// ErrJobs is in the chain of every error about what a job file says.
var ErrJobs = errors.New("the job file is not valid")

// Jobs is a job file: which parts are to be done, and how.
type Jobs struct {
	Version  int      `yaml:"version" json:"version" jsonschema:"version of the file format; 1"`
	Defaults Settings `yaml:"defaults" json:"defaults,omitzero" jsonschema:"settings of all parts that say nothing else"`
	Parts    []Entry  `yaml:"parts" json:"parts" jsonschema:"files and patterns, with settings of their own"`

	name string
	file *ast.File // nil for jobs from the command line
}

// Entry is a file, or a pattern in which * stands for any part of a name and
// ** for any folders, with settings of its own.
type Entry struct {
	Part     string   `yaml:"part" json:"part" jsonschema:"file, or pattern with * and **, relative to the job file"`
	Except   []string `yaml:"except" json:"except,omitempty" jsonschema:"patterns of files to leave out"`
	Settings `yaml:",inline"`
}

// UnmarshalYAML reads an entry; a bare text is a part without settings.
func (e *Entry) UnmarshalYAML(read func(any) error) error {
	var name string
	if read(&name) == nil {
		e.Part = name
		return nil
	}
	type plain Entry
	return read((*plain)(e))
}

// Problem is one thing wrong with a job file, with its line, or with the command line.
type Problem = recipe.Problem

// Error is what is wrong with the jobs.
type Error struct {
	File     string
	Problems []Problem // at least one
}

// Error returns one line a problem.
func (e *Error) Error() string { return (&recipe.Error{File: e.File, Problems: e.Problems}).Error() }

// Unwrap returns ErrJobs.
func (e *Error) Unwrap() error { return ErrJobs }

// ReadJobs reads a job file, no further than the largest size one may have.
func ReadJobs(name string, r io.Reader) (*Jobs, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	return ParseJobs(name, data)
}

// ParseJobs reads a job file. What is wrong with its form comes back as an *Error.
func ParseJobs(name string, data []byte) (*Jobs, error) {
	fail := func(p Problem) (*Jobs, error) { return nil, &Error{File: name, Problems: []Problem{p}} }
	const form = "see 'skinstock batch --help' for an example"
	if p := recipe.Guard(data, maxBytes); p != nil {
		return fail(*p)
	}
	text := bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")) // or lines are counted wrong
	file, err := parser.ParseBytes(text, 0)
	if err != nil {
		return fail(recipe.Explain(err, form))
	}
	if len(file.Docs) == 0 || file.Docs[0].Body == nil {
		return fail(Problem{Message: "the file is empty", Remedy: form})
	}
	if len(file.Docs) > 1 && file.Docs[1].Body != nil {
		return fail(Problem{Line: file.Docs[1].Body.GetToken().Position.Line, Message: "a second document starts here", Remedy: "keep one list of parts a file"})
	}
	j := &Jobs{name: name, file: file}
	if err := yaml.NewDecoder(bytes.NewReader(text), yaml.Strict()).Decode(j); err != nil {
		return fail(recipe.Explain(err, form))
	}
	if j.Version != FormatVersion {
		return fail(Problem{Line: j.line("$.version"), Path: "version", Message: fmt.Sprintf("version %d is not read", j.Version), Remedy: "write version: 1"})
	}
	if len(j.Parts) == 0 {
		return fail(Problem{Line: j.line("$.parts"), Path: "parts", Message: "no part is named", Remedy: form})
	}
	for i, e := range j.Parts {
		if e.Part == "" {
			return fail(Problem{Line: j.entryLine(i), Path: fmt.Sprintf("parts[%d]", i), Message: "the entry names no file", Remedy: "give part: a file or a pattern"})
		}
	}
	return j, nil
}

// OfFiles returns the jobs for files and patterns named on a command line.
func OfFiles(names []string, s Settings) *Jobs {
	j := &Jobs{Version: FormatVersion, Defaults: s, name: "command line"}
	for _, n := range names {
		j.Parts = append(j.Parts, Entry{Part: n})
	}
	return j
}

// line returns the line of a path into the file; 0 where it leads nowhere.
func (j *Jobs) line(path string) int {
	if j.file == nil {
		return 0
	}
	p, err := yaml.PathString(path)
	if err != nil {
		return 0
	}
	n, err := p.FilterFile(j.file)
	if err != nil || n == nil || n.GetToken() == nil {
		return 0
	}
	return n.GetToken().Position.Line
}

func (j *Jobs) entryLine(i int) int { return j.line(fmt.Sprintf("$.parts[%d]", i)) }

// LineOf returns the line of a setting of an entry, of the same setting in the
// defaults, or of the entry itself.
func (j *Jobs) LineOf(entry int, key string) int {
	for _, path := range []string{fmt.Sprintf("$.parts[%d].%s", entry, key), "$.defaults." + key} {
		if n := j.line(path); n > 0 {
			return n
		}
	}
	return j.entryLine(entry)
}

// Name returns the name of the job file, for messages.
func (j *Jobs) Name() string { return j.name }
