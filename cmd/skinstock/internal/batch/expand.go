package batch

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/bmatcuk/doublestar/v4"
)

// Part is one part to be done.
type Part struct {
	Entry int    // in the job file
	Name  string // as reports show it: relative to the job file
	Path  string // to open
	Bytes int64  // size of the file, 0 when it is not there
	Settings
}

// Expand lists the parts in the order of the entries, those of a pattern by
// name. Files are looked for from dir; those below out, the output folder, are
// never matched by a pattern. A file that is named but not there is a part all
// the same: it fails alone. What is wrong with names comes back as an *Error.
func (j *Jobs) Expand(dir, out string) ([]Part, error) {
	x := &expansion{jobs: j, dir: dir, named: map[string]bool{}}
	x.out, _ = filepath.Abs(out)
	for _, e := range j.Parts {
		if !x.isPattern(e.Part) {
			x.named[x.path(e.Part)] = true
		}
	}
	for i, e := range j.Parts {
		x.entry(i, e)
	}
	x.outputs()
	if len(x.problems) > 0 {
		return nil, &Error{File: j.name, Problems: x.problems}
	}
	return x.parts, nil
}

type expansion struct {
	jobs     *Jobs
	dir, out string
	named    map[string]bool // paths that an entry names without a pattern
	parts    []Part
	problems []Problem
}

func (x *expansion) problem(entry int, key, remedy, format string, a ...any) {
	const most = 20
	if len(x.problems) == most {
		return
	}
	x.problems = append(x.problems, Problem{Line: x.jobs.LineOf(entry, key), Path: key, Message: fmt.Sprintf(format, a...), Remedy: remedy})
}

func (x *expansion) path(name string) string {
	if filepath.IsAbs(name) {
		return filepath.Clean(name)
	}
	return filepath.Join(x.dir, filepath.FromSlash(name))
}

// isPattern tells patterns from names; a file whose own name has the signs of
// a pattern in it is a name.
func (x *expansion) isPattern(name string) bool {
	if !strings.ContainsAny(name, "*?[{") {
		return false
	}
	_, err := os.Lstat(x.path(name))
	return err != nil
}

func (x *expansion) entry(i int, e Entry) {
	if strings.ContainsRune(e.Part, 0) {
		x.problem(i, "part", "name a file", "the name holds a zero byte")
		return
	}
	s := e.Settings.over(x.jobs.Defaults).over(Builtin())
	if !x.isPattern(e.Part) {
		x.add(i, e.Part, s)
		return
	}
	for _, p := range append([]string{e.Part}, e.Except...) {
		if !doublestar.ValidatePattern(filepath.ToSlash(p)) {
			x.problem(i, "part", "close every bracket and brace", "%q is not a pattern", p)
			return
		}
	}
	names, err := x.glob(e)
	if err != nil {
		x.problem(i, "part", "make the folder readable", "%q: %v", e.Part, err)
		return
	}
	if len(names) == 0 {
		x.problem(i, "part", "patterns are relative to the job file; ** stands for any folders", "no file matches %q", e.Part)
	}
	for _, n := range names {
		x.add(i, n, s)
	}
}

// glob returns the names that match the pattern of an entry, sorted.
func (x *expansion) glob(e Entry) ([]string, error) {
	base, pattern := doublestar.SplitPattern(filepath.ToSlash(e.Part))
	found, err := doublestar.Glob(os.DirFS(x.path(base)), pattern,
		doublestar.WithFilesOnly(), doublestar.WithNoFollow(), doublestar.WithFailOnIOErrors())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	slices.Sort(found)
	var names []string
	for _, f := range found {
		name := f
		if base != "." {
			name = strings.TrimSuffix(base, "/") + "/" + f
		}
		full := x.path(name)
		if x.named[full] || below(full, x.out) || slices.ContainsFunc(e.Except, func(p string) bool {
			ok, _ := doublestar.Match(filepath.ToSlash(p), name)
			return ok
		}) {
			continue
		}
		names = append(names, name)
	}
	return names, nil
}

// below tells whether a path lies in a folder.
func below(path, dir string) bool {
	abs, err := filepath.Abs(path)
	if err != nil {
		return false
	}
	rel, err := filepath.Rel(dir, abs)
	return err == nil && filepath.IsLocal(rel)
}

// add enters a part and fills the places of its output names.
func (x *expansion) add(i int, name string, s Settings) {
	p := Part{Entry: i, Name: name, Path: x.path(name), Settings: s}
	if st, err := os.Stat(p.Path); err == nil && st.Mode().IsRegular() {
		p.Bytes = st.Size()
	}
	stem := filepath.FromSlash(name)
	if !filepath.IsLocal(stem) { // from elsewhere: its own name has to do
		stem = filepath.Base(stem)
	}
	stem = strings.TrimSuffix(filepath.Clean(stem), filepath.Ext(stem))
	js := strings.ReplaceAll(*s.JSON, "{part}", stem)
	p.JSON = &js
	for _, t := range []*string{&p.Output, &p.Report, &p.Finished} {
		*t = strings.ReplaceAll(*t, "{part}", stem)
	}
	x.parts = append(x.parts, p)
}

// outputs checks that no two files have one name, none leads out of the output
// folder, and none stands in the place of a part.
func (x *expansion) outputs() {
	const inside = "outputs stay inside the output folder: name them without .. and a leading slash"
	taken := map[string]int{resultsName: -1, summaryName: -1, indexName: -1}
	inputs := map[string]string{}
	for _, p := range x.parts {
		inputs[real(p.Path)] = p.Name
	}
	for n := range x.parts {
		p := &x.parts[n]
		for _, o := range []struct {
			key  string
			path *string
		}{{"output", &p.Output}, {"json", p.JSON}, {"report", &p.Report}, {"finished", &p.Finished}} {
			if *o.path == "" {
				continue
			}
			*o.path = filepath.Clean(filepath.FromSlash(*o.path))
			if !filepath.IsLocal(*o.path) || *o.path == "." || strings.ContainsRune(*o.path, 0) || strings.HasPrefix(*o.path, stateDir) {
				x.problem(p.Entry, o.key, inside, "%q cannot be an output", *o.path)
				continue
			}
			other, twice := taken[*o.path]
			switch {
			case twice && other < 0:
				x.problem(p.Entry, o.key, "name another file", "%q is written by the batch itself", *o.path)
			case twice:
				x.problem(p.Entry, o.key, "name the outputs apart with "+o.key+":", "%q would be written by %q and by %q", *o.path, x.parts[other].Name, p.Name)
			}
			if in, ok := inputs[real(filepath.Join(x.out, *o.path))]; ok {
				x.problem(p.Entry, o.key, "name another file, or another folder with --out", "%q would replace the part %q", *o.path, in)
			}
			taken[*o.path] = n
		}
	}
}

// real returns the path without links, as far as it is there.
func real(path string) string {
	abs, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	if r, err := filepath.EvalSymlinks(filepath.Dir(abs)); err == nil {
		return filepath.Join(r, filepath.Base(abs))
	}
	return abs
}
