package console

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Safe makes text from files fit to print: control characters, direction
// marks and bytes that are no UTF-8 become visible escapes, so that a name
// cannot move the cursor or rewrite the line. Line ends stay.
func Safe(s string) string {
	plain := func(r rune) bool { return r == '\n' || r == '\t' || unicode.IsPrint(r) }
	if utf8.ValidString(s) && strings.IndexFunc(s, func(r rune) bool { return !plain(r) }) < 0 {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && n == 1:
			b.WriteString(`\x` + hex2(s[i]))
		case plain(r):
			b.WriteRune(r)
		case r < 0x80:
			b.WriteString(`\x` + hex2(byte(r)))
		default:
			b.WriteRune(utf8.RuneError)
		}
		i += n
	}
	return b.String()
}

// SafeLine is Safe for text that must stay on its line: a name with a line end
// in it, or an error with a stack behind it.
func SafeLine(s string) string {
	return strings.NewReplacer("\n", `\n`, "\t", `\t`).Replace(Safe(s))
}

func hex2(b byte) string {
	const d = "0123456789abcdef"
	return string([]byte{d[b>>4], d[b&15]})
}
