package recipe

import (
	"math"
	"reflect"
	"strings"
)

// Key describes one key that a recipe may have.
type Key struct {
	Path  string // joined by dots; [] stands for each of a list
	Value string // what may stand there: unit and bounds, words, or the kind of text
	Need  string // "required", "optional", or the default
	Doc   string
}

// Keys lists the keys of a recipe in file order. Keys that only hold others
// are left out; the rows of the skins and of both sides of a table are alike
// and listed once, for <skin> and <side>.
func Keys() []Key {
	var out []Key
	keysBelow(reflect.TypeFor[Recipe](), "", &out)
	return out
}

// alike are the keys whose rows have the same form, by the name that stands
// for all of them.
var alike = map[string]string{
	"roughness.classes.upskin": "roughness.classes.<skin>", "roughness.classes.vertical": "", "roughness.classes.downskin": "", "roughness.classes.platform": "",
	"roughness.table.up": "roughness.table.<side>", "roughness.table.down": "",
}

func keysBelow(t reflect.Type, path string, out *[]Key) {
	for i := range t.NumField() {
		f := t.Field(i)
		key, inline := keyOf(f)
		if inline {
			keysBelow(f.Type, path, out)
			continue
		}
		if key == "" {
			continue
		}
		p := join(path, key)
		if name, ok := alike[p]; ok {
			if name == "" {
				continue
			}
			p = name
		}
		k := Key{Path: p, Need: "optional", Doc: f.Tag.Get("jsonschema")}
		if !strings.Contains(f.Tag.Get("json"), "omit") {
			k.Need = "required"
		}
		ft := f.Type
		if ft.Kind() == reflect.Pointer {
			ft = ft.Elem()
		}
		switch words := strings.Fields(f.Tag.Get("enum")); {
		case f.Type == quantityType:
			s := parseSpec(f.Tag.Get("spec"))
			k.Value = s.span()
			if s.hasDef {
				k.Need = formatFloat(s.def)
			}
		case len(words) > 0:
			k.Value = strings.Join(words, ", ")
		case ft.Kind() == reflect.Struct:
			keysBelow(ft, p, out)
			continue
		case ft.Kind() == reflect.Slice && ft.Elem().Kind() == reflect.Struct:
			keysBelow(ft.Elem(), p+"[]", out)
			continue
		case ft.Kind() == reflect.Slice:
			k.Value = "three numbers, mm"
		case ft.Kind() == reflect.Bool:
			k.Value, k.Need = "true, false", "false"
		case ft.Kind() == reflect.Int:
			k.Value = "whole number"
		default:
			k.Value = "text"
		}
		*out = append(*out, k)
	}
}

// span writes the bounds and the unit in short, as "> 0 to 500 um".
func (s spec) span() string {
	low := formatFloat(s.min)
	if s.minOpen {
		low = "> " + low
	}
	high := formatFloat(s.max)
	if s.maxOpen {
		high = "< " + high
	}
	text := low + " to " + high
	switch {
	case math.IsInf(s.max, 1):
		text = "from " + low
	case math.IsInf(s.min, -1):
		text = "up to " + high
	}
	return strings.TrimSpace(text + " " + s.unit)
}
