package recipe

import (
	"fmt"
	"reflect"
	"strings"

	"github.com/google/jsonschema-go/jsonschema"
)

// Schema returns the JSON Schema of a recipe, generated from the Go types and
// their bounds. It tells shape, words and ranges of single values; rules
// between values are beyond it.
func Schema() (*jsonschema.Schema, error) {
	s, err := jsonschema.For[Recipe](&jsonschema.ForOptions{
		TypeSchemas: map[reflect.Type]*jsonschema.Schema{quantityType: {}},
	})
	if err != nil {
		return nil, fmt.Errorf("generating the recipe schema: %w", err)
	}
	s.Schema = "https://json-schema.org/draft/2020-12/schema"
	s.Title = "skinstock recipe, version 1"
	s.Properties["version"].Const = jsonschema.Ptr[any](FormatVersion)
	s.Properties["name"].Pattern = nameForm.String()
	refine(s, reflect.TypeFor[Recipe]())
	return s, nil
}

// refine enters bounds and words below a struct's schema.
func refine(s *jsonschema.Schema, t reflect.Type) {
	for i := range t.NumField() {
		f := t.Field(i)
		key, inline := keyOf(f)
		if inline {
			refine(s, f.Type)
			continue
		}
		if key == "" {
			continue
		}
		p := s.Properties[key]
		switch words := strings.Fields(f.Tag.Get("enum")); {
		case f.Type == quantityType:
			doc := p.Description
			*p = *quantitySchema(parseSpec(f.Tag.Get("spec")))
			p.Description = doc
		case len(words) > 0:
			p.Enum = anySlice(words)
		default:
			refineBelow(p, f.Type)
		}
	}
}

// refineBelow goes through pointers and slices. A key is there with a value or
// left out, so null is taken off the types.
func refineBelow(p *jsonschema.Schema, t reflect.Type) {
	if len(p.Types) > 0 {
		for _, n := range p.Types {
			if n != "null" {
				p.Type = n
			}
		}
		p.Types = nil
	}
	switch t.Kind() {
	case reflect.Pointer:
		refineBelow(p, t.Elem())
	case reflect.Slice:
		if t.Elem().Kind() == reflect.Struct {
			refine(p.Items, t.Elem())
		}
	case reflect.Struct:
		refine(p, t)
	}
}

// quantitySchema allows the bare and the long form of a number within bounds.
func quantitySchema(s spec) *jsonschema.Schema {
	num := func() *jsonschema.Schema {
		n := &jsonschema.Schema{Type: "number"}
		if s.minOpen {
			n.ExclusiveMinimum = jsonschema.Ptr(s.min)
		} else {
			n.Minimum = jsonschema.Ptr(s.min)
		}
		if s.maxOpen {
			n.ExclusiveMaximum = jsonschema.Ptr(s.max)
		} else {
			n.Maximum = jsonschema.Ptr(s.max)
		}
		return n
	}
	long := &jsonschema.Schema{
		Type: "object",
		Properties: map[string]*jsonschema.Schema{
			"value":       num(),
			"source":      {Type: "string", Enum: anySlice([]string{string(Measured), string(Published), string(Assumed)})},
			"by":          {Type: "string"},
			"uncertainty": {Type: "number", Minimum: jsonschema.Ptr(0.0)},
			"note":        {Type: "string"},
		},
		PropertyOrder:        []string{"value", "source", "by", "uncertainty", "note"},
		Required:             []string{"value"},
		AdditionalProperties: &jsonschema.Schema{Not: &jsonschema.Schema{}},
	}
	out := &jsonschema.Schema{AnyOf: []*jsonschema.Schema{num(), long}}
	if s.hasDef {
		out.Default = []byte(formatFloat(s.def))
	}
	return out
}

func anySlice(words []string) []any {
	out := make([]any, len(words))
	for i, w := range words {
		out[i] = w
	}
	return out
}
