package threemf

import (
	"bytes"
	"strconv"
	"unicode/utf8"

	"skinstock/mesh/file"
)

// openTag takes <name attributes> or <name attributes/>.
func (x *xmlReader) openTag() error {
	if len(x.starts) == 0 && x.rootSeen {
		return x.fail(file.ErrSyntax, "found a second element behind the first")
	}
	x.rootSeen = true
	if len(x.starts) == maxDepth {
		return x.fail(file.ErrHostile, "elements are nested more than %d deep", maxDepth)
	}
	body, err := x.tagBody()
	if err != nil {
		return err
	}
	if x.selfEnd = len(body) > 0 && body[len(body)-1] == '/'; x.selfEnd {
		body = body[:len(body)-1]
	}
	n := 0
	for n < len(body) && !isBlank(body[n]) {
		n++
	}
	full := body[:n]
	x.starts = append(x.starts, len(x.names))
	x.names = append(x.names, full...)
	prefix, local, ok := split(full)
	if !ok {
		return x.fail(file.ErrSyntax, "found a tag without a proper name: %s", file.Quote(full))
	}
	x.name = local
	if err := x.attributes(body[n:]); err != nil {
		return err
	}
	if x.space, ok = x.lookup(prefix); !ok {
		return x.fail(file.ErrSyntax, "the prefix %s is not declared", file.Quote(prefix))
	}
	return nil
}

// tagBody returns what stands between < and >, and passes it. A '>' inside a
// quoted value does not end the tag.
func (x *xmlReader) tagBody() ([]byte, error) {
	from := 1
	quote := byte(0)
	for {
		b := x.buf[x.pos:x.end]
		for ; from < len(b); from++ {
			c := b[from]
			switch {
			case quote != 0:
				if c == quote {
					quote = 0
				}
			case c == '"' || c == '\'':
				quote = c
			case c == '>':
				x.pos += from + 1
				return b[1:from], nil
			case c == '<':
				return nil, x.fail(file.ErrSyntax, "found '<' inside a tag")
			}
		}
		if err := x.fill(); err != nil {
			return nil, err
		}
	}
}

// attributes takes name="value" pairs apart.
func (x *xmlReader) attributes(b []byte) error {
	x.attrs = x.attrs[:0]
	x.unescape = x.unescape[:0]
	for {
		rest := pastBlanks(b)
		if len(rest) == 0 {
			return nil
		}
		if len(rest) == len(b) {
			return x.fail(file.ErrSyntax, "an attribute is not set off by a space")
		}
		b = rest
		eq := bytes.IndexByte(b, '=')
		if eq < 0 {
			return x.fail(file.ErrSyntax, "found an attribute without a value: %s", file.Quote(b))
		}
		full := b[:eq]
		for len(full) > 0 && isBlank(full[len(full)-1]) {
			full = full[:len(full)-1]
		}
		b = pastBlanks(b[eq+1:])
		if len(b) < 2 || b[0] != '"' && b[0] != '\'' {
			return x.fail(file.ErrSyntax, "the value of %s is not in quotes", file.Quote(full))
		}
		n := bytes.IndexByte(b[1:], b[0])
		if n < 0 {
			return x.fail(file.ErrSyntax, "the value of %s has no end", file.Quote(full))
		}
		if err := x.attribute(full, b[1:1+n]); err != nil {
			return err
		}
		b = b[n+2:]
	}
}

// pastBlanks returns b without the blanks that it begins with.
func pastBlanks(b []byte) []byte {
	for len(b) > 0 && isBlank(b[0]) {
		b = b[1:]
	}
	return b
}

// attribute enters one attribute, or the namespace that it declares.
func (x *xmlReader) attribute(full, value []byte) error {
	prefix, name, ok := split(full)
	if !ok {
		return x.fail(file.ErrSyntax, "found an attribute without a proper name: %s", file.Quote(full))
	}
	if !plainValue(value) {
		if bytes.IndexByte(value, '<') >= 0 {
			return x.fail(file.ErrSyntax, "found '<' in the value of %s", file.Quote(full))
		}
		at := len(x.unescape)
		x.unescape = appendSpaced(x.unescape, value)
		value = x.unescape[at:]
		at = len(x.unescape)
		if x.unescape, ok = appendText(x.unescape, value); !ok {
			return x.fail(file.ErrHostile, "found an entity in %s that XML itself does not define", file.Quote(full))
		}
		value = x.unescape[at:]
	}
	for _, a := range x.attrs {
		if bytes.Equal(a.name, name) && bytes.Equal(a.prefix, prefix) {
			return x.fail(file.ErrSyntax, "the attribute %s is given twice", file.Quote(full))
		}
	}
	if len(x.attrs) == maxAttributes {
		return x.fail(file.ErrTooLarge, "a tag has more than %d attributes", maxAttributes)
	}
	x.attrs = append(x.attrs, attribute{prefix, name, value})
	if len(prefix) == 0 && string(name) == "xmlns" {
		x.bind("", string(value))
	} else if string(prefix) == "xmlns" {
		x.bind(string(name), string(value))
	}
	return nil
}

// plainValue tells whether a value stands for itself.
func plainValue(v []byte) bool {
	for _, c := range v {
		if c < ' ' || c == '<' || c == '&' {
			return false
		}
	}
	return true
}

func (x *xmlReader) bind(prefix, uri string) {
	s := spaces[uri]
	if s == noSpace && uri != "" {
		s = otherSpace
	}
	x.bindings = append(x.bindings, binding{prefix, uri, s, len(x.starts)})
}

// lookup returns the namespace of a prefix; no prefix without a declaration is no namespace.
func (x *xmlReader) lookup(prefix []byte) (space, bool) {
	for i := len(x.bindings) - 1; i >= 0; i-- {
		if x.bindings[i].prefix == string(prefix) {
			return x.bindings[i].space, true
		}
	}
	return noSpace, len(prefix) == 0 || string(prefix) == "xml"
}

// uri returns the namespace name of a prefix, for messages.
func (x *xmlReader) uri(prefix string) string {
	for i := len(x.bindings) - 1; i >= 0; i-- {
		if x.bindings[i].prefix == prefix {
			return x.bindings[i].uri
		}
	}
	return ""
}

// attr returns the value of an attribute without a prefix, nil when it is not there.
func (x *xmlReader) attr(name string) []byte {
	for i := range x.attrs {
		if len(x.attrs[i].prefix) == 0 && string(x.attrs[i].name) == name {
			return x.attrs[i].value
		}
	}
	return nil
}

// attrIn returns the value of an attribute of a namespace, nil when it is not there.
func (x *xmlReader) attrIn(s space, name string) []byte {
	for _, a := range x.attrs {
		if len(a.prefix) > 0 && string(a.name) == name {
			if got, _ := x.lookup(a.prefix); got == s {
				return a.value
			}
		}
	}
	return nil
}

// is tells whether the current tag is the core element of this name.
func (x *xmlReader) is(name string) bool { return x.space == core && string(x.name) == name }

// child goes on to the next child of the current element; false at its end.
func (x *xmlReader) child() (bool, error) {
	t, err := x.next()
	return t == startTag, err
}

// skip passes the current element with everything in it.
func (x *xmlReader) skip() error {
	for depth := 1; depth > 0; {
		t, err := x.next()
		if err != nil {
			return err
		}
		if t == startTag {
			depth++
		} else {
			depth--
		}
	}
	return nil
}

// content returns the text of the current element and passes it; children are skipped.
func (x *xmlReader) content() (string, error) {
	x.text, x.wantText = x.text[:0], true
	err := x.skip()
	x.wantText = false
	if err != nil {
		return "", err
	}
	t, ok := appendText(nil, x.text)
	if !ok {
		return "", x.fail(file.ErrHostile, "found an entity that XML itself does not define")
	}
	return string(t), nil
}

// split takes "prefix:name" apart.
func split(full []byte) (prefix, name []byte, ok bool) {
	for i, c := range full {
		switch c {
		case ':':
			if prefix != nil || i == 0 {
				return nil, nil, false
			}
			prefix, name = full[:i], full[i+1:]
		case '"', '\'', '=', '&', '<', '>', '/':
			return nil, nil, false
		}
		if isBlank(c) {
			return nil, nil, false
		}
	}
	if prefix == nil {
		name = full
	}
	return prefix, name, len(name) > 0
}

func isBlank(c byte) bool { return c == ' ' || c == '\n' || c == '\t' || c == '\r' }

// appendText appends text with its references resolved; false when one is unknown.
func appendText(dst, b []byte) ([]byte, bool) {
	for {
		i := bytes.IndexByte(b, '&')
		if i < 0 {
			return append(dst, b...), true
		}
		dst = append(dst, b[:i]...)
		b = b[i+1:]
		end := bytes.IndexByte(b[:min(len(b), 12)], ';')
		if end < 0 {
			return dst, false
		}
		switch ref := string(b[:end]); ref {
		case "lt":
			dst = append(dst, '<')
		case "gt":
			dst = append(dst, '>')
		case "amp":
			dst = append(dst, '&')
		case "quot":
			dst = append(dst, '"')
		case "apos":
			dst = append(dst, '\'')
		default:
			r, ok := character(ref)
			if !ok {
				return dst, false
			}
			dst = utf8.AppendRune(dst, r)
		}
		b = b[end+1:]
	}
}

// appendSpaced appends the value of an attribute, where tabs and line ends stand
// for spaces (XML 1.0, 2.11 and 3.3.3).
func appendSpaced(dst, b []byte) []byte {
	for i, c := range b {
		switch {
		case c == '\n' && i > 0 && b[i-1] == '\r': // one line end
		case isBlank(c):
			dst = append(dst, ' ')
		default:
			dst = append(dst, c)
		}
	}
	return dst
}

// character returns the character of a reference #123 or #x7B.
func character(ref string) (rune, bool) {
	if len(ref) < 2 || ref[0] != '#' {
		return 0, false
	}
	digits, base := ref[1:], 10
	if digits[0] == 'x' {
		digits, base = digits[1:], 16
	}
	n, err := strconv.ParseUint(digits, base, 32)
	r := rune(n)
	return r, err == nil && n <= utf8.MaxRune && utf8.ValidRune(r) && (r >= ' ' || r == '\t' || r == '\n' || r == '\r')
}
