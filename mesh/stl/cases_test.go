package stl

import (
	"encoding/binary"
	"math"
	"strings"

	"skinstock/mesh"
)

// The part of all small cases: a right-angled tetrahedron, legs 10, volume 1000/6.
var tetra = [][3][3]float32{
	{{0, 0, 0}, {0, 10, 0}, {10, 0, 0}},
	{{0, 0, 0}, {10, 0, 0}, {0, 0, 10}},
	{{0, 0, 0}, {0, 0, 10}, {0, 10, 0}},
	{{10, 0, 0}, {0, 10, 0}, {0, 0, 10}},
}

const tetraSize = headerSize + 4*recordSize

// asciiTetra is the tetrahedron as text, one solid.
func asciiTetra(name string) string {
	return strings.TrimRight("solid "+name, " ") + `
  facet normal 0 0 -1
    outer loop
      vertex 0 0 0
      vertex 0 10 0
      vertex 10 0 0
    endloop
  endfacet
  facet normal 0 -1 0
    outer loop
      vertex 0 0 0
      vertex 10 0 0
      vertex 0 0 10
    endloop
  endfacet
  facet normal -1 0 0
    outer loop
      vertex 0 0 0
      vertex 0 0 10
      vertex 0 10 0
    endloop
  endfacet
  facet normal 0.577350 0.577350 0.577350
    outer loop
      vertex 10 0 0
      vertex 0 10 0
      vertex 0 0 10
    endloop
  endfacet
endsolid ` + name + "\n"
}

// binaryTetra is the tetrahedron as a binary file with a header and a count of its own.
func binaryTetra(header string, count uint32) []byte {
	b := make([]byte, headerSize, tetraSize)
	copy(b[:80], header)
	binary.LittleEndian.PutUint32(b[80:], count)
	for i := range tetra {
		b = appendRecord(b, [3]float32{}, &tetra[i], 0)
	}
	return b
}

func appendRecord(b []byte, n [3]float32, t *[3][3]float32, word uint16) []byte {
	for _, p := range append([][3]float32{n}, t[:]...) {
		for _, v := range p {
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(v))
		}
	}
	return binary.LittleEndian.AppendUint16(b, word)
}

// patch returns b with bytes replaced from at on.
func patch(b []byte, at int, with ...byte) []byte {
	copy(b[at:], with)
	return b
}

func replace(s, old, with string) []byte {
	if !strings.Contains(s, old) {
		panic("the case's text has no " + old)
	}
	return []byte(strings.Replace(s, old, with, 1))
}

// lineOf returns b up to the end of line n.
func upToLine(s string, n int) []byte {
	return []byte(strings.Join(strings.SplitAfter(s, "\n")[:n], ""))
}

var (
	nanBits = []byte{0, 0, 0xC0, 0x7F}
	infBits = []byte{0, 0, 0x80, 0xFF}
)

// smallCase is a small file with what becomes of it. Files of this name, with
// ".stl" behind, lie in the repository's testdata/stl.
type smallCase struct {
	name     string
	data     []byte
	format   Format
	warnings []string // codes
	solids   []mesh.Solid
	err      error
	line     int   // of the error
	offset   int64 // of the error, where it has no line; -1 for the whole file
	says     string
}

func one(name string) []mesh.Solid { return []mesh.Solid{{Name: name, Count: 4}} }

// smallCases returns the accepted files, which all hold the tetrahedron, and the refused ones.
func smallCases() []smallCase {
	text := asciiTetra("part")
	tooFewWords := "the header is no longer than it has to be"
	extra := appendRecord(nil, [3]float32{}, &[3][3]float32{{1, 2, 3}, {4e9, 5, 6}, {7, 8, 9}}, 0) // far outside the part
	return []smallCase{
		{name: "pass-binary", data: binaryTetra("tetrahedron", 4)},
		{name: "pass-binary-solid-header", data: binaryTetra("solid part", 4)},
		{name: "pass-binary-solid-header-lines", data: binaryTetra("solid part\nfacet normal 0 0 1\n outer loop\n  vertex 0 0 0\n  vertex 1 0 0\n", 4)},
		{name: "pass-binary-solid-header-trailing", data: append(binaryTetra("solid "+tooFewWords, 4), "end"...), warnings: []string{CodeTrailing}},
		{name: "pass-binary-trailing", data: append(binaryTetra("", 4), 1, 2, 3), warnings: []string{CodeTrailing}},
		{name: "pass-binary-trailing-zero-record", data: append(binaryTetra("", 4), make([]byte, recordSize)...), warnings: []string{CodeTrailing}},
		{name: "pass-binary-trailing-far-record", data: append(binaryTetra("", 4), extra...), warnings: []string{CodeTrailing}},
		{name: "pass-binary-count-zero", data: binaryTetra("", 0), warnings: []string{CodeCount}},
		{name: "pass-binary-count-high", data: binaryTetra("", 7), warnings: []string{CodeCount}},
		{name: "pass-binary-count-low", data: binaryTetra("", 3), warnings: []string{CodeCount}},
		{name: "pass-binary-count-all-ones", data: binaryTetra("", math.MaxUint32), warnings: []string{CodeCount}},
		{name: "pass-binary-normal-nan", data: patch(binaryTetra("", 4), headerSize+recordSize, nanBits...), warnings: []string{CodeNormal}},
		{name: "pass-binary-normal-reversed", data: patch(binaryTetra("", 4), headerSize+8, 0, 0, 0x80, 0x3F), warnings: []string{CodeReversed}},
		{name: "pass-binary-attributes", data: patch(binaryTetra("", 4), headerSize+2*recordSize+48, 0x34, 0x12)},
		{name: "pass-binary-colour-header", data: binaryTetra("COLOR=\x80\x00\x80\xff,MATERIAL=\x10\x10\x10\xff", 4)},

		{name: "pass-ascii", data: []byte(text), format: ASCII, solids: one("part")},
		{name: "pass-ascii-crlf", data: []byte(strings.ReplaceAll(text, "\n", "\r\n")), format: ASCII, solids: one("part")},
		{name: "pass-ascii-cr", data: []byte(strings.ReplaceAll(text, "\n", "\r")), format: ASCII, solids: one("part")},
		{name: "pass-ascii-tabs-upper", data: []byte(strings.ToUpper(strings.ReplaceAll(text, " ", "\t"))), format: ASCII, solids: one("PART")},
		{name: "pass-ascii-exponents", data: []byte(strings.ReplaceAll(text, " 10 ", " +1.0E+01 ")), format: ASCII, solids: one("part")},
		{name: "pass-ascii-bom", data: []byte("\xEF\xBB\xBF" + text), format: ASCII, solids: one("part")},
		{name: "pass-ascii-nameless", data: []byte(asciiTetra("")), format: ASCII},
		{name: "pass-ascii-latin1-name", data: []byte(asciiTetra("tr\xE4ger")), format: ASCII, solids: one("tr\xE4ger")},
		{name: "pass-ascii-number-in-name", data: []byte(asciiTetra("part #3")), format: ASCII, solids: one("part #3")},
		{name: "pass-ascii-comments", data: []byte("# made by hand\n" + strings.ReplaceAll(text, "\n", " # note\n# note\n")), format: ASCII, solids: one("part")},
		{name: "pass-ascii-no-normal", data: replace(text, "facet normal 0 0 -1", "facet"), format: ASCII, solids: one("part")},
		{name: "pass-ascii-short-normal", data: replace(text, "facet normal 0 0 -1", "facet normal 1"), format: ASCII, solids: one("part")},
		{name: "pass-ascii-normal-nan", data: replace(text, "normal 0 0 -1", "normal -1.#IND nan x"), format: ASCII, solids: one("part"), warnings: []string{CodeNormal}},
		{name: "pass-ascii-no-last-newline", data: []byte(strings.TrimSpace(text)), format: ASCII, solids: one("part")},
		{name: "pass-ascii-nul-padding", data: []byte(text + "\x1A\x00\x00\x00"), format: ASCII, solids: one("part")},
		{name: "pass-ascii-one-line", data: []byte("solid part\n" + strings.ReplaceAll(text[len("solid part\n"):], "\n", " ")), format: ASCII, solids: one("part")},
		{name: "pass-ascii-no-solid-line", data: replace(text, "solid part\n", ""), format: ASCII, solids: nil, warnings: []string{CodeNameless}},
		{
			name: "pass-ascii-several-solids", format: ASCII, warnings: []string{CodeEmpty},
			data:   replace(text, "  endfacet\n", "  endfacet\nendsolid part\nsolid\nendsolid\nsolid rest of it\n"),
			solids: []mesh.Solid{{Name: "part", Count: 1}, {First: 1}, {Name: "rest of it", First: 1, Count: 3}},
		},

		{name: "fail-empty", err: ErrEmpty, offset: -1},
		{name: "fail-no-facets-binary", data: make([]byte, headerSize), err: ErrNoFacets, offset: 80},
		{name: "fail-no-facets-ascii", data: []byte("solid part\nendsolid part\n"), err: ErrNoFacets, line: 3},
		{name: "fail-only-solid-line", data: []byte("solid"), err: ErrTruncated, line: 1},
		{name: "fail-short-header", data: binaryTetra("", 4)[:83], err: ErrNotSTL, offset: -1},
		{name: "fail-header-only", data: binaryTetra("", 4)[:headerSize], err: ErrTruncated, offset: headerSize},
		{name: "fail-truncated-binary", data: binaryTetra("", 4)[:tetraSize-1], err: ErrTruncated, offset: tetraSize - 1},
		{name: "fail-truncated-count-zero", data: binaryTetra("", 0)[:tetraSize-7], err: ErrTruncated, offset: tetraSize - 7},
		{name: "fail-truncated-ascii-between", data: upToLine(text, 15), err: ErrTruncated, line: 16},
		{name: "fail-truncated-ascii-inside", data: upToLine(text, 12), err: ErrTruncated, line: 13},
		{name: "fail-truncated-ascii-number", data: upToLine(text, 11)[:len(upToLine(text, 11))-3], err: ErrTruncated, line: 11},
		{name: "fail-number", data: replace(text, "vertex 10 0 0", "vertex 1O 0 0"), err: ErrNumber, line: 6, says: `facet 1: found "1O" where x of corner 3 belongs`},
		{name: "fail-number-comma", data: replace(text, "vertex 0 10 0", "vertex 0 10,0 0"), err: ErrNumber, line: 5, says: `"10,0"`},
		{name: "fail-number-missing", data: replace(text, "vertex 0 10 0", "vertex 0 10"), err: ErrNumber, line: 6, says: `found "vertex"`},
		{name: "fail-two-corners", data: replace(text, "      vertex 10 0 0\n", ""), err: ErrVertexCount, line: 6, says: "2 corners"},
		{name: "fail-four-corners", data: replace(text, "vertex 10 0 0\n", "vertex 10 0 0\nvertex 5 5 0\n"), err: ErrVertexCount, line: 7, says: "fourth corner"},
		{name: "fail-nan-binary", data: patch(binaryTetra("", 4), headerSize+recordSize+12+16, nanBits...), err: ErrNotFinite, offset: headerSize + recordSize + 12 + 16, says: "facet 2: y of corner 2 is NaN"},
		{name: "fail-infinite-binary", data: patch(binaryTetra("", 4), tetraSize-6, infBits...), err: ErrNotFinite, offset: tetraSize - 6, says: "facet 4: z of corner 3 is -Inf"},
		{name: "fail-nan-ascii", data: replace(text, "vertex 10 0 0", "vertex 10 nan 0"), err: ErrNotFinite, line: 6, says: `y of corner 3 is "nan"`},
		{name: "fail-too-big-for-single", data: replace(text, "vertex 10 0 0", "vertex 10 0 1e39"), err: ErrNotFinite, line: 6, says: `"1e39"`},
		{name: "fail-misspelt", data: replace(text, "outer loop", "outer lop"), err: ErrSyntax, line: 3, says: `found "lop" where "loop" belongs`},
		{name: "fail-second-loop", data: replace(text, "endloop", "endloop\nouter loop"), err: ErrSyntax, line: 8, says: `"endfacet"`},
		{name: "fail-stray-word", data: replace(text, "normal 0 0 -1", "normal 0 0 -1 0"), err: ErrSyntax, line: 2, says: `found "0"`},
		{name: "fail-text-behind-end", data: []byte(text + "facet\n"), err: ErrSyntax, line: 31, says: `found "facet"`},
		{name: "fail-solid-in-solid", data: replace(text, "endsolid", "solid"), err: ErrSyntax, line: 30, says: `found "solid"`},
		{name: "fail-long-word", data: replace(text, "vertex 10 0 0", "vertex 1"+strings.Repeat("0", 5000)), err: ErrSyntax, line: 6, says: "4096 bytes"},
		{name: "fail-other-text", data: []byte("OFF\n4 4 6\n0 0 0\n"), err: ErrNotSTL, line: 1, says: `begins with "OFF"`},
		{name: "fail-utf16", data: []byte("\xFF\xFEs\x00o\x00l\x00i\x00d\x00\n\x00"), err: ErrNotSTL, line: 1, says: "UTF-16"},
		{name: "fail-picture", data: []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + strings.Repeat("\x9C\x01", 100)), err: ErrTruncated, offset: 216, says: "no STL file"},
	}
}
