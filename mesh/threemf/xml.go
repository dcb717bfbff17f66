package threemf

import (
	"bytes"
	"fmt"
	"io"

	"skinstock/mesh/file"
	"skinstock/mesh/internal/scan"
)

// token is what next came upon.
type token int

const (
	startTag token = iota
	endTag
	endOfFile
)

// Limits of the markup.
const (
	maxTag        = 1 << 20 // bytes of one tag with its attributes
	maxAttributes = 64
	maxDepth      = 128
)

// space is a namespace that means something here.
type space int

const (
	noSpace space = iota
	core
	harmless // changes no shape
	production
	beams
	otherSpace
)

var spaces = map[string]space{
	coreURI:     core,
	materialURI: harmless,
	"http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07": harmless,
	"http://schemas.microsoft.com/3dmanufacturing/production/2015/06":   production,
	"http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02":  beams,
}

const (
	coreURI     = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
	materialURI = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
)

type attribute struct{ prefix, name, value []byte }

// binding is a namespace prefix and the depth of the element that declares it.
type binding struct {
	prefix, uri string
	space       space
	depth       int
}

// xmlReader is a pull reader for the XML of model files. It resolves
// namespaces, checks that tags match, and knows only the five entities of XML
// itself; a document type is refused. Slices it hands out stay valid until the
// next call.
type xmlReader struct {
	r        io.Reader
	buf      []byte
	pos, end int
	eof      bool
	err      error // of reading
	passed   int   // line ends before buf[0]

	name     []byte // local name of the tag read last
	space    space
	attrs    []attribute
	selfEnd  bool // the start tag was an empty element: its end comes next
	bindings []binding
	names    []byte // full names of the open elements, one behind the other
	starts   []int  // where each begins in names
	text     []byte // of the element whose text is wanted
	wantText bool
	rootSeen bool
	begun    bool
	unescape []byte
}

func newXMLReader(r io.Reader) *xmlReader {
	return &xmlReader{r: r, buf: make([]byte, 64<<10)}
}

// line returns the line of the reading position, from 1 on.
func (x *xmlReader) line() int {
	return x.passed + bytes.Count(x.buf[:x.pos], []byte{'\n'}) + 1
}

func (x *xmlReader) fail(kind error, format string, args ...any) error {
	return &file.Error{Line: x.line(), Offset: -1, Found: fmt.Sprintf(format, args...), Remedy: file.Export, Err: kind}
}

// fill makes more bytes available behind the unread ones. It returns an error
// at the end of the file.
func (x *xmlReader) fill() error {
	if x.pos > 0 {
		x.passed += bytes.Count(x.buf[:x.pos], []byte{'\n'})
		copy(x.buf, x.buf[x.pos:x.end])
		x.end -= x.pos
		x.pos = 0
	}
	if x.end == len(x.buf) {
		if x.end >= maxTag {
			return x.fail(file.ErrTooLarge, "a tag is longer than %d bytes", maxTag)
		}
		x.buf = append(x.buf, make([]byte, len(x.buf))...)
	}
	for range 100 {
		if x.eof {
			break
		}
		n, err := x.r.Read(x.buf[x.end:])
		x.end += n
		if err != nil {
			x.eof = true
			if err != io.EOF {
				x.err = err
			}
		}
		if n > 0 {
			return nil
		}
	}
	if x.err != nil {
		return x.err
	}
	if !x.eof {
		return io.ErrNoProgress
	}
	return io.ErrUnexpectedEOF
}

// next goes on to the next tag.
func (x *xmlReader) next() (token, error) {
	if x.selfEnd {
		x.selfEnd = false
		x.pop()
		return endTag, nil
	}
	if !x.begun {
		x.begun = true
		if x.need(3) == nil && string(x.buf[:3]) == "\xEF\xBB\xBF" {
			x.pos = 3
		}
	}
	for {
		if err := x.chars(); err != nil {
			if err == io.ErrUnexpectedEOF && len(x.starts) == 0 {
				if !x.rootSeen {
					return endOfFile, x.fail(file.ErrTruncated, "the file holds no XML")
				}
				return endOfFile, nil
			}
			return endOfFile, x.cut(err)
		}
		if err := x.need(2); err != nil {
			return endOfFile, x.cut(err)
		}
		switch x.buf[x.pos+1] {
		case '?':
			if err := x.instruction(); err != nil {
				return endOfFile, x.cut(err)
			}
		case '!':
			if err := x.declaration(); err != nil {
				return endOfFile, x.cut(err)
			}
		case '/':
			return endTag, x.cut(x.closeTag())
		default:
			return startTag, x.cut(x.openTag())
		}
	}
}

// cut turns the end of the file in the middle of things into an error of the file.
func (x *xmlReader) cut(err error) error {
	if err == io.ErrUnexpectedEOF {
		return &file.Error{Line: x.line(), Offset: -1, Found: "the XML ends in the middle", Remedy: file.Copy, Err: file.ErrTruncated}
	}
	return err
}

// need makes n unread bytes available.
func (x *xmlReader) need(n int) error {
	for x.end-x.pos < n {
		if err := x.fill(); err != nil {
			return err
		}
	}
	return nil
}

// chars passes text up to the next '<', kept when it is wanted.
func (x *xmlReader) chars() error {
	for {
		b := x.buf[x.pos:x.end]
		i := bytes.IndexByte(b, '<')
		n := i
		if i < 0 {
			n = len(b)
		}
		if len(x.starts) == 0 && len(bytes.TrimLeft(b[:n], " \t\r\n")) > 0 {
			return x.fail(file.ErrSyntax, "found text outside the XML element")
		}
		if x.wantText {
			x.text = append(x.text, b[:n]...)
		}
		x.pos += n
		if i >= 0 {
			return nil
		}
		if err := x.fill(); err != nil {
			return err
		}
	}
}

// instruction passes <? ... ?>. The first may name an encoding.
func (x *xmlReader) instruction() error {
	body, err := x.until(2, "?>")
	if err != nil {
		return err
	}
	if bytes.HasPrefix(body, []byte("xml ")) {
		if i := bytes.Index(body, []byte("encoding")); i >= 0 {
			v := bytes.Trim(body[i+len("encoding"):], " \t\r\n='\"")
			if !scan.HasPrefixFold(v, "utf-8") && !scan.HasPrefixFold(v, "us-ascii") {
				return x.fail(file.ErrUnsupported, "the XML has the encoding %s, only UTF-8 is known", file.Quote(v))
			}
		}
	}
	return nil
}

// declaration passes a comment or takes a CDATA section for text.
func (x *xmlReader) declaration() error {
	if err := x.need(4); err != nil {
		return err
	}
	if bytes.HasPrefix(x.buf[x.pos:x.end], []byte("<!--")) {
		return x.skipComment()
	}
	if err := x.need(9); err == nil && bytes.HasPrefix(x.buf[x.pos:x.end], []byte("<![CDATA[")) {
		body, err := x.until(9, "]]>")
		if err == nil && x.wantText {
			x.text = append(x.text, bytes.ReplaceAll(body, []byte("&"), []byte("&amp;"))...)
		}
		return err
	}
	return x.fail(file.ErrHostile, "found a document type or an entity declaration, which 3MF forbids")
}

// skipComment passes a comment of any length.
func (x *xmlReader) skipComment() error {
	x.pos += len("<!--")
	for {
		if i := bytes.Index(x.buf[x.pos:x.end], []byte("-->")); i >= 0 {
			x.pos += i + len("-->")
			return nil
		}
		x.pos = max(x.pos, x.end-2)
		if err := x.fill(); err != nil {
			return err
		}
	}
}

// until returns the bytes from lead on up to a closing mark, and passes both.
func (x *xmlReader) until(lead int, mark string) ([]byte, error) {
	for from := lead; ; {
		if x.pos+from <= x.end {
			if i := bytes.Index(x.buf[x.pos+from:x.end], []byte(mark)); i >= 0 {
				body := x.buf[x.pos+lead : x.pos+from+i]
				x.pos += from + i + len(mark)
				return body, nil
			}
			from = max(lead, x.end-x.pos-len(mark)+1)
		}
		if err := x.fill(); err != nil {
			return nil, err
		}
	}
}

// closeTag takes </name>.
func (x *xmlReader) closeTag() error {
	body, err := x.until(2, ">")
	if err != nil {
		return err
	}
	body = bytes.TrimRight(body, " \t\r\n")
	if len(x.starts) == 0 {
		return x.fail(file.ErrSyntax, "found the end tag %s without a start", file.Quote(body))
	}
	if open := x.names[x.starts[len(x.starts)-1]:]; !bytes.Equal(open, body) {
		return x.fail(file.ErrSyntax, "found the end tag %s where that of %s belongs", file.Quote(body), file.Quote(open))
	}
	x.pop()
	return nil
}

func (x *xmlReader) pop() {
	n := len(x.starts)
	for len(x.bindings) > 0 && x.bindings[len(x.bindings)-1].depth == n {
		x.bindings = x.bindings[:len(x.bindings)-1]
	}
	x.names = x.names[:x.starts[n-1]]
	x.starts = x.starts[:n-1]
}
