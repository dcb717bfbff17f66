package batch

import (
	"fmt"
	"reflect"

	"github.com/google/jsonschema-go/jsonschema"
)

// JobSchema returns the JSON Schema of job files, generated from the Go types.
func JobSchema() (*jsonschema.Schema, error) {
	number := func() *jsonschema.Schema { return &jsonschema.Schema{Type: "number"} }
	three := 3
	skins := &jsonschema.Schema{Type: "object", AdditionalProperties: &jsonschema.Schema{Type: "number", Minimum: new(float64)}}
	s, err := jsonschema.For[Jobs](&jsonschema.ForOptions{TypeSchemas: map[reflect.Type]*jsonschema.Schema{
		reflect.TypeFor[Direction](): {AnyOf: []*jsonschema.Schema{
			{Type: "string"}, {Type: "array", Items: number(), MinItems: &three, MaxItems: &three},
		}},
		reflect.TypeFor[Allowance](): {AnyOf: []*jsonschema.Schema{number(), {Type: "string"}, skins}},
	}})
	if err != nil {
		return nil, fmt.Errorf("generating the schema of job files: %w", err)
	}
	s.Schema = "https://json-schema.org/draft/2020-12/schema"
	s.Title = "skinstock job file, version 1"
	s.Properties["version"].Const = jsonschema.Ptr[any](FormatVersion)
	for _, settings := range []*jsonschema.Schema{s.Properties["defaults"], s.Properties["parts"].Items} {
		settings.Properties["units"].Enum = []any{"mm", "cm", "m", "inch", "um"}
		settings.Properties["field"].Enum = []any{"none", "fast", "full"}
		settings.Properties["verify"].Enum = []any{"full", "crossings", "off"}
		settings.Properties["fail_on"].Enum = []any{"info", "warning", "error", "never"}
		for _, p := range settings.Properties { // a key is there with a value or left out
			if len(p.Types) == 2 {
				p.Type, p.Types = p.Types[1], nil
			}
		}
	}
	// A bare text is a part without settings.
	s.Properties["parts"].Items = &jsonschema.Schema{AnyOf: []*jsonschema.Schema{{Type: "string"}, s.Properties["parts"].Items}}
	return s, nil
}
