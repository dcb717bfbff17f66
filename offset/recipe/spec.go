package recipe

import (
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
)

// spec is what a quantity's field tag says: unit, bounds, default.
// The tag reads like "um >0 <=500 =60" or "um >0 ?": unit first, "-" for none;
// "=" gives the default, "?" makes the quantity optional without one.
type spec struct {
	unit             string
	min, max         float64 // infinite where there is none
	minOpen, maxOpen bool
	def              float64
	hasDef, optional bool
}

// parseSpec reads a tag. It panics on a tag it does not know: tags are ours.
func parseSpec(tag string) spec {
	f := strings.Fields(tag)
	s := spec{unit: f[0], min: math.Inf(-1), max: math.Inf(1)}
	if s.unit == "-" {
		s.unit = ""
	}
	num := func(t string) float64 {
		v, err := strconv.ParseFloat(t, 64)
		if err != nil {
			panic("recipe: bad spec tag " + tag)
		}
		return v
	}
	for _, t := range f[1:] {
		switch {
		case t == "?":
			s.optional = true
		case strings.HasPrefix(t, ">="):
			s.min = num(t[2:])
		case strings.HasPrefix(t, "<="):
			s.max = num(t[2:])
		case strings.HasPrefix(t, ">"):
			s.min, s.minOpen = num(t[1:]), true
		case strings.HasPrefix(t, "<"):
			s.max, s.maxOpen = num(t[1:]), true
		case strings.HasPrefix(t, "="):
			s.def, s.hasDef = num(t[1:]), true
		default:
			panic("recipe: bad spec tag " + tag)
		}
	}
	return s
}

// holds tells whether v lies within the bounds. NaN does not.
func (s spec) holds(v float64) bool {
	low := v > s.min || (!s.minOpen && v == s.min)
	high := v < s.max || (!s.maxOpen && v == s.max)
	return low && high && !math.IsInf(v, 0)
}

// bounds says the bounds in words.
func (s spec) bounds() string {
	low, high := "at least", "at most"
	if s.minOpen {
		low = "more than"
	}
	if s.maxOpen {
		high = "less than"
	}
	return strings.TrimSpace(fmt.Sprintf("%s %s and %s %s %s", low, formatFloat(s.min), high, formatFloat(s.max), s.unit))
}

// field is one settled field of a recipe met on a walk.
type field struct {
	path string
	spec spec
	q    *Quantity
	doc  string
}

var quantityType = reflect.TypeFor[Quantity]()

// keyOf returns the key a struct field has in the file, "" for a field that is
// no key, and whether the field's own fields stand in its place.
func keyOf(f reflect.StructField) (key string, inline bool) {
	if f.Anonymous {
		return "", true
	}
	key, _, _ = strings.Cut(f.Tag.Get("json"), ",")
	if key == "-" || !f.IsExported() {
		return "", false
	}
	return key, false
}

// walk calls visit for every quantity below v in file order, and enum for
// every text with a fixed set of words. v must be addressable.
func walk(v reflect.Value, path string, visit func(field), enum func(path string, words []string, v reflect.Value)) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			walk(v.Elem(), path, visit, enum)
		}
	case reflect.Slice:
		for i := range v.Len() {
			walk(v.Index(i), fmt.Sprintf("%s[%d]", path, i), visit, enum)
		}
	case reflect.Struct:
		walkStruct(v, path, visit, enum)
	}
}

func walkStruct(v reflect.Value, path string, visit func(field), enum func(string, []string, reflect.Value)) {
	for i := range v.NumField() {
		sf := v.Type().Field(i)
		key, inline := keyOf(sf)
		if inline {
			walk(v.Field(i), path, visit, enum)
			continue
		}
		if key == "" {
			continue
		}
		p := join(path, key)
		switch {
		case sf.Type == quantityType:
			visit(field{path: p, spec: parseSpec(sf.Tag.Get("spec")), q: v.Field(i).Addr().Interface().(*Quantity), doc: sf.Tag.Get("jsonschema")})
		case sf.Tag.Get("enum") != "":
			enum(p, strings.Fields(sf.Tag.Get("enum")), v.Field(i))
		default:
			walk(v.Field(i), p, visit, enum)
		}
	}
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// quantities calls visit for every quantity of the recipe, given or not, in file order.
func (r *Recipe) quantities(visit func(field)) {
	walk(reflect.ValueOf(r).Elem(), "", visit, func(string, []string, reflect.Value) {})
}
