package stl

import (
	"errors"
	"fmt"
	"slices"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/internal/scan"
)

// asciiReader takes the facets of an ASCII file into a soup.
type asciiReader struct {
	s       *scan.Scanner
	size    int64 // bytes, -1 when not known
	opt     Options
	soup    mesh.Soup
	normals normalCount
	name    []byte // buffer for solid names
	empty   int    // solids without facets
	bare    bool   // facets came without a solid line

	runs  []plainRun
	tried int64 // end of the window that plain was tried on last
}

var facetWord = []byte("facet")

// readASCII reads solids to the end of the file.
func readASCII(s *scan.Scanner, size int64, opt Options) (*File, error) {
	a := &asciiReader{s: s, size: size, opt: opt}
	if len(s.Peek(3)) == 3 && string(s.Peek(3)) == string(byteOrderMark) {
		s.Skip(3)
	}
	for {
		w, err := a.word()
		if err != nil {
			return nil, err
		}
		if w == nil {
			break
		}
		switch {
		case scan.EqualFold(w, "solid"):
			a.name = solidName(s.RestOfLine(a.name[:0]))
			err = a.solid(string(a.name), false)
		case scan.EqualFold(w, "facet") && a.soup.Len() == 0 && len(a.soup.Solids) == 0:
			a.bare = true
			err = a.solid("", true)
		default:
			err = a.outOfPlace(w)
		}
		if err != nil {
			return nil, err
		}
	}
	return a.file()
}

// outOfPlace is the error for a word where a solid should begin.
func (a *asciiReader) outOfPlace(w []byte) error {
	if len(a.soup.Solids) == 0 {
		return &Error{
			Line: a.s.Line(), Offset: -1, Err: ErrNotSTL, Remedy: file.Export,
			Found: fmt.Sprintf("the text begins with %s, an ASCII STL file with \"solid\"", file.Quote(w)),
		}
	}
	return a.fail(ErrSyntax, 0, fmt.Sprintf("found %s behind the end of a solid, where only \"solid\" may follow", file.Quote(w)))
}

// solid reads facets up to "endsolid"; inside tells that the word "facet" has been read already.
func (a *asciiReader) solid(name string, inside bool) error {
	first := a.soup.Len()
	for {
		w := facetWord
		if !inside {
			a.plain()
			var err error
			if w, err = a.must("facet or endsolid"); err != nil {
				return err
			}
		}
		inside = false
		if scan.EqualFold(w, "facet") {
			if err := a.facet(); err != nil {
				return err
			}
			continue
		}
		if !scan.EqualFold(w, "endsolid") {
			return a.fail(ErrSyntax, 0, fmt.Sprintf("found %s where \"facet\" or \"endsolid\" belongs", file.Quote(w)))
		}
		a.name = a.s.RestOfLine(a.name[:0])
		n := a.soup.Len() - first
		if n == 0 {
			a.empty++
		}
		a.soup.Solids = append(a.soup.Solids, mesh.Solid{Name: name, First: first, Count: n})
		return nil
	}
}

// facet reads what follows the word "facet".
func (a *asciiReader) facet() error {
	if a.soup.Len() == a.opt.MaxFacets {
		return tooLarge(a.opt, Error{Line: a.s.Line(), Offset: -1})
	}
	n, hasNormal, err := a.normal()
	if err != nil {
		return err
	}
	if err := a.expect("loop"); err != nil {
		return err
	}
	a.opt.Welder.Offer(&a.soup)
	a.grow(1)
	a.soup.Corners = append(a.soup.Corners, [3][3]float32{})
	t := &a.soup.Corners[len(a.soup.Corners)-1]
	for k := range 3 {
		if err := a.vertex(k, &t[k]); err != nil {
			return err
		}
	}
	w, err := a.must("endloop")
	if err != nil {
		return err
	}
	if scan.EqualFold(w, "vertex") {
		return a.cornerCount("a fourth corner")
	}
	if !scan.EqualFold(w, "endloop") {
		return a.misplaced(w, "endloop")
	}
	if err := a.expect("endfacet"); err != nil {
		return err
	}
	if hasNormal {
		a.normals.add(n, t)
	}
	return nil
}

// grow makes room for so many more facets, which have been passed, and then for
// the whole file at once, by the length of its first facets, when the size is known.
func (a *asciiReader) grow(more int) {
	n := len(a.soup.Corners)
	if a.size <= a.s.Offset() || n+more < 512 || n+more <= cap(a.soup.Corners) || a.soup.Before > 0 {
		return
	}
	perFacet := float64(a.s.Offset()) / float64(n+more)
	left := float64(a.size-a.s.Offset()) / perFacet
	rest := min(more+int(1.02*left)+64, a.opt.MaxFacets-n)
	if a.opt.Welder.Expect(n + rest); a.opt.Welder == nil {
		a.soup.Corners = slices.Grow(a.soup.Corners, rest)
	}
}

// normal reads from "facet" up to and including the word "outer". Whatever
// stands there is only looked at, so it may be missing, short or no number.
func (a *asciiReader) normal() (n [3]float32, ok bool, err error) {
	numbers := 0
	for i := 0; ; i++ {
		w, err := a.must("outer")
		if err != nil {
			return n, false, err
		}
		switch {
		case scan.EqualFold(w, "outer"):
			return n, numbers == 3, nil
		case i == 0 && scan.EqualFold(w, "normal"):
		case numbers < 3 && i > 0:
			v, isNumber := scan.Float32(w)
			if !isNumber {
				v = nan
			}
			n[numbers] = v
			numbers++
		default:
			return n, false, a.misplaced(w, "outer")
		}
	}
}

// vertex reads corner k, its keyword included.
func (a *asciiReader) vertex(k int, p *[3]float32) error {
	w, err := a.must("vertex")
	if err != nil {
		return err
	}
	if !scan.EqualFold(w, "vertex") {
		if scan.EqualFold(w, "endloop") {
			return a.cornerCount([]string{"no corners", "1 corner", "2 corners"}[k])
		}
		return a.misplaced(w, "vertex")
	}
	for i := range 3 {
		if w, err = a.must("a number"); err != nil {
			return err
		}
		v, ok := scan.Float32(w)
		if !ok {
			return a.fail(ErrNumber, a.soup.Len(), fmt.Sprintf("found %s where %c of corner %d belongs", file.Quote(w), "xyz"[i], k+1))
		}
		if !isFinite(v) {
			return a.fail(ErrNotFinite, a.soup.Len(), fmt.Sprintf("%c of corner %d is %s, not a finite number in single precision", "xyz"[i], k+1, file.Quote(w)))
		}
		p[i] = v
	}
	return nil
}

func (a *asciiReader) cornerCount(found string) error {
	e := a.fail(ErrVertexCount, a.soup.Len(), "found "+found+" where a facet has three").(*Error)
	e.Remedy = "export triangles only"
	return e
}

// expect passes the given word.
func (a *asciiReader) expect(keyword string) error {
	w, err := a.must(keyword)
	if err == nil && !scan.EqualFold(w, keyword) {
		err = a.misplaced(w, keyword)
	}
	return err
}

// must returns the next word; the file must not end before it.
func (a *asciiReader) must(wanted string) ([]byte, error) {
	w, err := a.word()
	if err == nil && w == nil {
		e := a.fail(ErrTruncated, 0, fmt.Sprintf("the file ends where %s belongs", wanted)).(*Error)
		e.Remedy = file.Copy
		err = e
	}
	return w, err
}

// word returns the next word, or nil at the end of the file.
func (a *asciiReader) word() ([]byte, error) {
	w, err := a.s.Word()
	if err == nil {
		return w, nil
	}
	if errors.Is(err, scan.ErrLongWord) {
		return nil, a.fail(ErrSyntax, 0, fmt.Sprintf("found a word of more than %d bytes", scan.MaxWord))
	}
	return nil, readError(a.s)
}

func (a *asciiReader) misplaced(w []byte, wanted string) error {
	return a.fail(ErrSyntax, 0, fmt.Sprintf("found %s where %q belongs", file.Quote(w), wanted))
}

func (a *asciiReader) fail(kind error, facet int, found string) error {
	return &Error{Line: a.s.Line(), Offset: -1, Facet: facet, Found: found, Remedy: file.Export, Err: kind}
}

// file hands the result over.
func (a *asciiReader) file() (*File, error) {
	if a.soup.Len() == 0 {
		return nil, &Error{Line: a.s.Line(), Offset: -1, Err: ErrNoFacets, Remedy: file.Export, Found: "the file ends and holds no facets"}
	}
	f := &File{Format: ASCII, Soup: a.soup}
	if a.bare {
		f.warn(CodeNameless, 1, "the facets begin without a \"solid\" line", "")
	}
	if a.empty > 0 {
		f.warn(CodeEmpty, a.empty, fmt.Sprintf("solids without facets: %d", a.empty), "")
	}
	a.normals.warn(f)
	// One solid whose name holds nothing that can be written has none.
	if s := f.Soup.Solids; len(s) == 1 && writableName(s[0].Name) == "" {
		f.Soup.Solids = nil
	}
	return f, nil
}
