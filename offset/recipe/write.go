package recipe

import (
	"bytes"
	"fmt"

	"github.com/goccy/go-yaml"
)

// Marshal writes the recipe as a file of the current format. Defaults of the
// program are left out, so that the file says only what somebody decided.
func (r *Recipe) Marshal() ([]byte, error) {
	c := r.Clone()
	c.quantities(func(f field) {
		if f.q.Source == Assumed && f.q.Note == DefaultNote && f.spec.hasDef && f.q.Value == f.spec.def {
			*f.q = Quantity{}
		}
	})
	if c.Roughness.Model != ModelTable {
		c.Roughness.Table.Outside = ""
	}
	var b bytes.Buffer
	if err := yaml.NewEncoder(&b, yaml.IndentSequence(true)).Encode(c); err != nil {
		return nil, fmt.Errorf("writing recipe %s: %w", r.Name, err)
	}
	return b.Bytes(), nil
}
