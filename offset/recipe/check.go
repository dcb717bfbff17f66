package recipe

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// checker compares a document with the types before it is decoded: it finds
// every unknown key and wrong kind, not just the first, and keeps the line of
// each key for later messages.
type checker struct {
	lines    map[string]int
	problems []Problem
}

func (c *checker) add(n ast.Node, path, remedy, format string, args ...any) {
	c.problems = append(c.problems, Problem{Line: line(n), Path: path, Message: fmt.Sprintf(format, args...), Remedy: remedy})
}

// line returns the line a node starts on.
func line(n ast.Node) int {
	if n == nil || n.GetToken() == nil || n.GetToken().Position == nil {
		return 0
	}
	return n.GetToken().Position.Line
}

// node checks that n can be a t.
func (c *checker) node(n ast.Node, t reflect.Type, path string) {
	if _, ok := c.lines[path]; !ok {
		c.lines[path] = line(n)
	}
	if t.Kind() == reflect.Pointer {
		c.node(n, t.Elem(), path)
		return
	}
	if n.Type() == ast.NullType {
		c.add(n, path, "write a value or remove the line", "nothing after the colon")
		return
	}
	switch {
	case t == quantityType:
		c.quantity(n, path)
	case t.Kind() == reflect.Struct:
		c.mapping(n, t, path)
	case t.Kind() == reflect.Slice:
		c.sequence(n, t, path)
	default:
		c.scalar(n, t, path)
	}
}

func (c *checker) quantity(n ast.Node, path string) {
	if _, ok := number(n); ok {
		return
	}
	if _, ok := pairs(n); !ok {
		c.add(n, path, "write 4.5, or {value: 4.5, source: measured}; the unit stands in the key", "%s is not a number", say(n))
		return
	}
	c.mapping(n, quantityType, path)
}

// pairs returns the key-value pairs of a mapping.
func pairs(n ast.Node) ([]*ast.MappingValueNode, bool) {
	switch n := n.(type) {
	case *ast.MappingNode:
		return n.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}, true
	}
	return nil, false
}

func (c *checker) mapping(n ast.Node, t reflect.Type, path string) {
	list, ok := pairs(n)
	if !ok {
		c.add(n, path, "write one \"key: value\" a line below it, indented", "%s where keys are wanted", say(n))
		return
	}
	keys := keysOf(t)
	seen := map[string]bool{}
	for _, kv := range list {
		key := kv.Key.String()
		if s, ok := kv.Key.(*ast.StringNode); ok {
			key = s.Value
		}
		ft, ok := keys[key]
		if !ok {
			c.add(kv.Key, join(path, plain(key)), hint(key, keys), "unknown key")
			continue
		}
		if seen[key] {
			c.add(kv.Key, join(path, key), "keep one of them", "key given twice")
			continue
		}
		seen[key] = true
		p := join(path, key)
		c.lines[p] = line(kv.Key)
		c.node(kv.Value, ft, p)
	}
	if t == quantityType && !seen["value"] {
		c.add(n, path, "write {value: 4.5, ...}", "value is missing")
	}
}

func (c *checker) sequence(n ast.Node, t reflect.Type, path string) {
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		c.add(n, path, "begin each entry with \"- \"", "%s where a list is wanted", say(n))
		return
	}
	for i, v := range s.Values {
		c.node(v, t.Elem(), fmt.Sprintf("%s[%d]", path, i))
	}
}

func (c *checker) scalar(n ast.Node, t reflect.Type, path string) {
	ok, want := true, ""
	switch t.Kind() {
	case reflect.Float64:
		_, text := n.(*ast.StringNode)
		_, ok = number(n)
		ok = ok && (!text || isPart(path))
		want = "a number, such as 4.5"
	case reflect.Int:
		_, ok = n.(*ast.IntegerNode)
		want = "a whole number"
	case reflect.Bool:
		_, ok = n.(*ast.BoolNode)
		want = "true or false"
	case reflect.String:
		_, text := n.(*ast.StringNode)
		_, block := n.(*ast.LiteralNode)
		ok, want = text || block, "text; put it in quotes if it looks like a number"
	default:
		panic("recipe: a field of kind " + t.Kind().String())
	}
	if !ok {
		c.add(n, path, "write "+want, "%s does not fit", say(n))
	}
}

// isPart tells whether a path is the value or uncertainty of a quantity, which may be written with an exponent.
func isPart(path string) bool {
	return strings.HasSuffix(path, ".value") || strings.HasSuffix(path, ".uncertainty")
}

// say names a node in a message.
func say(n ast.Node) string {
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a group of keys"
	case *ast.SequenceNode:
		return "a list"
	}
	s, _, _ := strings.Cut(n.String(), "\n")
	return clip(strings.TrimSpace(s))
}

// plain returns a key as it stands if it looks like one, and else clipped.
func plain(key string) string {
	for _, r := range key {
		if r != '_' && !(r >= 'a' && r <= 'z') && !(r >= 'A' && r <= 'Z') && !(r >= '0' && r <= '9') {
			return clip(key)
		}
	}
	if key == "" || len(key) > 40 {
		return clip(key)
	}
	return key
}

// clip shortens text from the file for a message, and keeps control characters out of it.
func clip(s string) string {
	q := fmt.Sprintf("%q", s)
	if r := []rune(q); len(r) > 40 {
		return string(r[:37]) + "...\""
	}
	return q
}

// keysOf returns the keys of a struct type with their types.
func keysOf(t reflect.Type) map[string]reflect.Type {
	keys := map[string]reflect.Type{}
	for i := range t.NumField() {
		f := t.Field(i)
		key, inline := keyOf(f)
		switch {
		case inline:
			for k, ft := range keysOf(f.Type) {
				keys[k] = ft
			}
		case key != "":
			keys[key] = f.Type
		}
	}
	return keys
}

// hint proposes the nearest key, or lists them all.
func hint(key string, keys map[string]reflect.Type) string {
	names := make([]string, 0, len(keys))
	for k := range keys {
		names = append(names, k)
	}
	slices.Sort(names)
	if best := nearest(key, names); best != "" {
		return "did you mean " + best + "?"
	}
	return "keys here are " + strings.Join(names, ", ")
}

// nearest returns the name that s begins, or else the one that differs from s
// in the fewest characters; "" when none is near.
func nearest(s string, names []string) string {
	best, at := "", max(1, len(s)/3)+1
	for _, n := range names {
		if len(s) > 3 && strings.HasPrefix(n, s) {
			return n
		}
		if d := editDistance(s, n); d < at {
			best, at = n, d
		}
	}
	return best
}

// editDistance counts the insertions, deletions and replacements between a and b.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diag := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			diag, row[j+1] = row[j+1], min(row[j+1]+1, row[j]+1, diag+cost)
		}
	}
	return row[len(b)]
}
