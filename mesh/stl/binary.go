package stl

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/internal/scan"
)

// binaryReader takes the records of a binary file into a soup.
type binaryReader struct {
	s       *scan.Scanner
	opt     Options
	soup    mesh.Soup
	normals normalCount
	claimed int64 // facets by the header
	room    int   // facets that the file can hold of these, 0 when its size is not known
	exact   bool  // the file has just the size that the claim calls for
	box     box   // of all corners, unless exact
}

// readBinary reads a binary file to its end, whatever its header claims, and
// settles afterwards which of the two to believe.
func readBinary(s *scan.Scanner, size int64, opt Options) (*File, error) {
	head := s.Peek(headerSize)
	if len(head) < headerSize {
		return nil, &Error{
			Offset: -1, Remedy: file.Export, Err: ErrNotSTL,
			Found: fmt.Sprintf("%d bytes are neither ASCII STL nor the %d bytes a binary one has at least", len(head), headerSize),
		}
	}
	f := &File{Format: Binary}
	copy(f.Header[:], head)
	b := &binaryReader{
		s: s, opt: opt, claimed: int64(binary.LittleEndian.Uint32(head[80:])), exact: sizeFits(head, size), box: noBox,
	}
	s.Skip(headerSize)
	if size >= 0 {
		room := max(0, size-headerSize) / recordSize
		if b.claimed > 0 {
			room = min(room, b.claimed)
		}
		if room > int64(opt.MaxFacets) {
			return nil, tooLarge(opt, Error{Offset: 80})
		}
		b.room = int(room)
		if opt.Welder.Expect(b.room); opt.Welder == nil {
			b.soup.Corners = make([][3][3]float32, 0, b.room)
		}
	}

	limit := b.claimed
	if limit == 0 {
		limit = math.MaxInt64 // a writer that streamed and never came back to fill the count in
	}
	if err := b.records(limit); err != nil {
		return nil, err
	}
	rest, err := b.beyond()
	if err != nil {
		return nil, err
	}
	if err := b.settle(f, rest); err != nil {
		return nil, err
	}
	b.normals.warn(f)
	f.Soup = b.soup
	return f, nil
}

// records takes whole records until the file ends or the soup has limit facets.
func (b *binaryReader) records(limit int64) error {
	for int64(b.soup.Len()) < limit {
		w := b.s.Window()
		n := min(int64(len(w)/recordSize), int64(len(zeros)), limit-int64(b.soup.Len()))
		if n == 0 {
			if !b.s.Fill() {
				break
			}
			continue
		}
		if b.soup.Len()+int(n) > b.opt.MaxFacets {
			return tooLarge(b.opt, Error{Offset: 80})
		}
		at := len(b.soup.Corners)
		if at+int(n) <= cap(b.soup.Corners) {
			b.soup.Corners = b.soup.Corners[:at+int(n)]
		} else {
			b.soup.Corners = append(b.soup.Corners, zeros[:n]...)
		}
		for i := range int(n) {
			if !b.record(w[recordSize*i:], at+i) {
				b.s.Skip(recordSize * i)
				return b.notFinite(at + i)
			}
		}
		b.s.Skip(recordSize * int(n))
		if !b.exact {
			b.box.widen(b.soup.Corners[at:])
		}
		b.opt.Welder.Offer(&b.soup)
	}
	if b.s.Err() != nil {
		return readError(b.s)
	}
	return nil
}

// zeros is what the soup grows by: as many facets as are read in one go.
var zeros [1024][3][3]float32

// record takes the record at the start of w as corners n, for which the soup has
// room. It returns false when a corner is not finite.
func (b *binaryReader) record(w []byte, n int) bool {
	w = w[:recordSize:recordSize]
	t := &b.soup.Corners[n]
	const exponent = 0x7F800000 // all ones in an infinity and in what is no number
	finite := true
	for k := range 3 {
		for i := range 3 {
			bits := binary.LittleEndian.Uint32(w[12+12*k+4*i:])
			finite = finite && bits&exponent != exponent
			t[k][i] = math.Float32frombits(bits)
		}
	}
	b.normals.add([3]float32{
		math.Float32frombits(binary.LittleEndian.Uint32(w[0:])),
		math.Float32frombits(binary.LittleEndian.Uint32(w[4:])),
		math.Float32frombits(binary.LittleEndian.Uint32(w[8:])),
	}, t)
	word := binary.LittleEndian.Uint16(w[48:])
	if word != 0 && b.soup.Attributes == nil {
		b.soup.Attributes = make([]uint16, b.soup.Before+n, max(b.room, b.soup.Before+n))
	}
	if b.soup.Attributes != nil {
		b.soup.Attributes = append(b.soup.Attributes, word)
	}
	return finite
}

// notFinite names the first of corners n that is not finite; its record comes next.
func (b *binaryReader) notFinite(n int) error {
	t := &b.soup.Corners[n]
	for k := range t {
		for i, v := range t[k] {
			if !isFinite(v) {
				return &Error{
					Offset: b.s.Offset() + int64(12+12*k+4*i), Facet: b.soup.Before + n + 1, Err: ErrNotFinite, Remedy: file.Export,
					Found: fmt.Sprintf("%c of corner %d is %v, not a finite number", "xyz"[i], k+1, v),
				}
			}
		}
	}
	return nil
}

// beyond goes on behind the claimed facets: what looks like more facets of
// this part joins the soup. It returns the number of bytes that do not.
func (b *binaryReader) beyond() (rest int64, err error) {
	start := b.s.Offset()
	first := len(b.soup.Corners)
	if b.claimed == int64(b.soup.Len()) && len(b.s.Peek(recordSize)) == recordSize {
		lo, hi := b.box.grown()
		normals := b.normals
		for w := b.s.Peek(recordSize); len(w) == recordSize; w = b.s.Peek(recordSize) {
			if b.soup.Len() == b.opt.MaxFacets {
				return 0, tooLarge(b.opt, Error{Offset: b.s.Offset()})
			}
			n := len(b.soup.Corners)
			b.soup.Corners = append(b.soup.Corners, zeros[0])
			if !b.record(w, n) || !inBox(&b.soup.Corners[n], lo, hi) {
				b.forget(first)
				b.normals = normals
				break
			}
			b.s.Skip(recordSize)
		}
	}
	for {
		b.s.Skip(len(b.s.Window()))
		if !b.s.Fill() {
			break
		}
	}
	if b.s.Err() != nil {
		return 0, readError(b.s)
	}
	rest = b.s.Offset() - start - int64(len(b.soup.Corners)-first)*recordSize
	if rest > 0 && len(b.soup.Corners) > first { // no whole number of facets: so none of it is facets
		rest = b.s.Offset() - start
		b.forget(first)
	}
	return rest, nil
}

// forget drops the corners from first on.
func (b *binaryReader) forget(first int) {
	b.soup.Corners = b.soup.Corners[:first]
	if b.soup.Attributes == nil {
		return
	}
	b.soup.Attributes = b.soup.Attributes[:b.soup.Len()]
	if !slices.ContainsFunc(b.soup.Attributes, func(w uint16) bool { return w != 0 }) {
		b.soup.Attributes = nil
	}
}

// settle compares the facets read and the bytes left over with the header.
func (b *binaryReader) settle(f *File, rest int64) error {
	n := int64(b.soup.Len())
	switch {
	case n == 0 && b.claimed == 0 && rest == 0:
		return &Error{Offset: 80, Err: ErrNoFacets, Remedy: file.Export, Found: "the file ends behind its header and holds no facets"}
	case b.claimed == 0 && rest > 0:
		return &Error{
			Offset: headerSize + recordSize*n + rest, Err: ErrTruncated, Remedy: file.Copy,
			Found: fmt.Sprintf("the file ends inside facet %d and its header gives no count: it is cut short or no STL file", n+1),
		}
	case n < b.claimed && rest > 0 || n == 0:
		return &Error{
			Offset: headerSize + recordSize*n + rest, Err: ErrTruncated, Remedy: file.Copy,
			Found: fmt.Sprintf("the file ends inside facet %d of the %d that its header announces: it is cut short or no STL file", n+1, b.claimed),
		}
	case n != b.claimed:
		f.warn(CodeCount, 1, fmt.Sprintf("the header announces %d facets, the file holds exactly %d: the file is believed", b.claimed, n),
			"if facets are missing, "+file.Copy)
	case rest > 0:
		f.warn(CodeTrailing, int(rest), fmt.Sprintf("%d bytes behind the last facet are ignored", rest), "")
	}
	return nil
}

// box is the least and the greatest of coordinates.
type box struct{ lo, hi [3]float32 }

var inf = float32(math.Inf(1))

var noBox = box{[3]float32{inf, inf, inf}, [3]float32{-inf, -inf, -inf}}

// widen makes the box hold facets.
func (b *box) widen(t [][3][3]float32) {
	for f := range t {
		for k := range 3 {
			for i, v := range t[f][k] {
				b.lo[i], b.hi[i] = min(b.lo[i], v), max(b.hi[i], v)
			}
		}
	}
}

// grown returns the box grown by its diagonal.
func (b *box) grown() (lo, hi [3]float64) {
	for i := range 3 {
		lo[i], hi[i] = float64(b.lo[i]), float64(b.hi[i])
	}
	d := math.Hypot(math.Hypot(hi[0]-lo[0], hi[1]-lo[1]), hi[2]-lo[2])
	for i := range 3 {
		lo[i], hi[i] = lo[i]-d, hi[i]+d
	}
	return lo, hi
}

// inBox tells whether t is a facet with an extent and inside the box.
func inBox(t *[3][3]float32, lo, hi [3]float64) bool {
	for k := range 3 {
		for i, v := range t[k] {
			if !(float64(v) >= lo[i] && float64(v) <= hi[i]) { // also what is no number
				return false
			}
		}
	}
	return t[0] != t[1] && t[1] != t[2] && t[2] != t[0]
}

func isFinite(v float32) bool { return v-v == 0 }
