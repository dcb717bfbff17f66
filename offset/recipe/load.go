package recipe

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// Limits of a recipe file. The largest built-in recipe has 6 KiB.
const (
	maxBytes = 256 << 10
	maxLine  = 2000 // characters; also bounds how deep one line can nest
	maxDepth = 16   // flow brackets; the format needs 4

	maxProblems = 20 // listed one by one
)

// Default is the recipe taken where none is named.
const Default = "ti-6al-4v-30"

//go:embed embedded/*.yaml
var embedded embed.FS

// builtin lists the built-in recipes in the order of listings.
var builtin = [...]string{Default, "ti-6al-4v-60", "316l-40", "alsi10mg-30", "in718-40"}

// List returns the names of the built-in recipes, the default first.
func List() []string { return append([]string(nil), builtin[:]...) }

// Load returns a built-in recipe. For another name the error has [ErrUnknown] in its chain.
func Load(name string) (*Recipe, error) {
	for _, b := range builtin {
		if b == name {
			data, err := embedded.ReadFile("embedded/" + name + ".yaml")
			if err != nil {
				return nil, err
			}
			return Parse(name, data)
		}
	}
	help := "the built-in ones are " + strings.Join(builtin[:], ", ")
	if near := nearest(strings.ToLower(name), builtin[:]); near != "" {
		help = "did you mean " + near + "?"
	}
	return nil, fmt.Errorf("%w: %s; %s", ErrUnknown, clip(name), help)
}

// Read reads a recipe from r, which is read no further than the largest size
// a recipe may have. The name is used in messages.
func Read(name string, r io.Reader) (*Recipe, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("reading recipe %s: %w", name, err)
	}
	return Parse(name, data)
}

// Parse reads a recipe from the bytes of a file. What is wrong with it comes
// back as an *[Error] with all problems found, each with line and remedy.
func Parse(name string, data []byte) (*Recipe, error) {
	const form = "see a built-in recipe for the form: skinstock recipe show " + Default
	fail := func(p ...Problem) (*Recipe, error) { return nil, &Error{File: name, Problems: p} }
	if p := Guard(data, maxBytes); p != nil {
		return fail(*p)
	}
	text := bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")) // or lines are counted wrong
	file, err := parser.ParseBytes(text, 0)
	if err != nil {
		return fail(Explain(err, form))
	}
	if len(file.Docs) == 0 || file.Docs[0].Body == nil {
		return fail(Problem{Message: "the file is empty", Remedy: "start from a built-in recipe: skinstock recipe show " + Default})
	}
	if len(file.Docs) > 1 {
		return fail(Problem{Line: line(file.Docs[1].Body), Message: "a second document starts here", Remedy: "keep one recipe a file"})
	}
	c := &checker{lines: map[string]int{}}
	c.node(file.Docs[0].Body, reflect.TypeFor[Recipe](), "")
	if n := len(c.problems); n > maxProblems {
		rest := Problem{Message: fmt.Sprintf("and %d problems more", n-maxProblems), Remedy: "is this a recipe?"}
		return fail(append(c.problems[:maxProblems:maxProblems], rest)...)
	} else if n > 0 {
		return fail(c.problems...)
	}
	r := &Recipe{}
	if err := yaml.NewDecoder(bytes.NewReader(text), yaml.Strict()).Decode(r); err != nil {
		return fail(Explain(err, form))
	}
	sum := sha256.Sum256(data)
	r.File, r.SHA256, r.Bytes, r.lines = name, hex.EncodeToString(sum[:]), append([]byte(nil), data...), c.lines
	r.fillDefaults()
	if p := r.validate(); len(p) > 0 {
		return fail(p...)
	}
	return r, nil
}

// Guard refuses YAML that would cost time or memory out of proportion before
// any parsing: size, line length, nesting, and references from place to place.
// Job files are held to the same rules.
func Guard(data []byte, most int) *Problem {
	if len(data) > most {
		return &Problem{Message: fmt.Sprintf("the file has more than %d KiB", most>>10), Remedy: "this should be a page of text: is it the right file?"}
	}
	n := 0
	for l := range bytes.Lines(data) {
		n++
		if len(l) > maxLine {
			return &Problem{Line: n, Message: fmt.Sprintf("the line has %d characters", len(l)), Remedy: fmt.Sprintf("keep lines under %d", maxLine)}
		}
		if i := bytes.IndexByte(l, 0); i >= 0 {
			return &Problem{Line: n, Message: "the file is binary, not text", Remedy: "this should be YAML text in UTF-8"}
		}
	}
	return guardTokens(lexer.Tokenize(string(data)))
}

func guardTokens(tokens token.Tokens) *Problem {
	depth := 0
	for _, t := range tokens {
		switch t.Type {
		case token.AnchorType, token.AliasType, token.MergeKeyType:
			return &Problem{Line: t.Position.Line, Message: "anchors, aliases and merge keys (& * <<) are not read", Remedy: "write the values out"}
		case token.TagType:
			return &Problem{Line: t.Position.Line, Message: "type tags (!) are not read", Remedy: "remove the tag, or put the text in quotes"}
		case token.MappingStartType, token.SequenceStartType:
			depth++
		case token.MappingEndType, token.SequenceEndType:
			depth--
		}
		if depth > maxDepth {
			return &Problem{Line: t.Position.Line, Message: fmt.Sprintf("brackets nest deeper than %d", maxDepth), Remedy: "no key needs that"}
		}
	}
	return nil
}

// Explain turns an error of the YAML library into a problem, with a remedy
// where the error suggests none.
func Explain(err error, remedy string) Problem {
	p := Problem{Message: err.Error(), Remedy: remedy}
	var ye yaml.Error
	if errors.As(err, &ye) {
		p.Message = ye.GetMessage()
		if t := ye.GetToken(); t != nil && t.Position != nil {
			p.Line = t.Position.Line
		}
	}
	p.Message, _, _ = strings.Cut(p.Message, "\n")
	if key, found := strings.CutPrefix(p.Message, "mapping key "); found {
		key, _, _ = strings.Cut(key, " already")
		p.Message, p.Remedy = "key "+key+" given twice", "keep one of them"
	}
	return p
}
