package recipe

import "reflect"

// Named is a quantity with its place in the recipe.
type Named struct {
	Path string // key, such as finish.target_ra_um
	Unit string // empty for a plain number
	Doc  string // what the number is
	Line int    // line in the file, 0 when the file leaves it out
	Quantity
}

// Values returns every given quantity in file order of the format, defaults of
// the program included. Rows of roughness models that the recipe does not use
// are left out.
func (r *Recipe) Values() []Named {
	var out []Named
	r.quantities(func(f field) {
		if f.q.Given() && r.uses(f.path) {
			out = append(out, Named{Path: f.path, Unit: f.spec.unit, Doc: f.doc, Line: r.lines[f.path], Quantity: *f.q})
		}
	})
	return out
}

// AssumedValues returns the values that nobody vouches for.
func (r *Recipe) AssumedValues() []Named {
	var out []Named
	for _, v := range r.Values() {
		if v.Source == Assumed {
			out = append(out, v)
		}
	}
	return out
}

// uses tells whether the value at a path has a part in this recipe's roughness model.
func (r *Recipe) uses(path string) bool {
	for _, m := range []struct {
		prefix string
		model  RoughnessModel
	}{
		{"roughness.classes.", ModelClasses},
		{"roughness.table.", ModelTable},
		{"roughness.stair_step.", ModelStairStep},
	} {
		if len(path) > len(m.prefix) && path[:len(m.prefix)] == m.prefix {
			return r.Roughness.Model == m.model
		}
	}
	return true
}

// With returns a copy of the recipe in which the quantity at a path has another
// value. Source, uncertainty and everything else stay, but the copy is not
// checked, and has no bytes and no digest, since no file says what it says.
// ok is false when the recipe has no given quantity there.
func (r *Recipe) With(path string, value float64) (c *Recipe, ok bool) {
	t := r.Trial()
	if ok = t.Set(path, value); !ok {
		t.Recipe.Bytes, t.Recipe.SHA256 = r.Bytes, r.SHA256
	}
	return t.Recipe, ok
}

// Trial is a copy of a recipe in which values are tried one after the other,
// which takes less than a copy for each. As with With it is not checked.
type Trial struct {
	Recipe *Recipe
	fields map[string]field
}

// Trial returns a copy to try values in.
func (r *Recipe) Trial() *Trial {
	t := &Trial{Recipe: r.Clone(), fields: map[string]field{}}
	t.Recipe.Bytes, t.Recipe.SHA256 = nil, ""
	t.Recipe.quantities(func(f field) { t.fields[f.path] = f })
	return t
}

// Set changes the quantity at a path, and returns false when none is given there.
func (t *Trial) Set(path string, value float64) bool {
	f, ok := t.fields[path]
	if !ok || !f.q.Given() {
		return false
	}
	f.q.Value = value
	return true
}

// Bounds returns the least and the greatest value that the format allows at a path.
func (t *Trial) Bounds(path string) (lo, hi float64) {
	s := t.fields[path].spec
	return s.min, s.max
}

// Bounds returns the least and the greatest value that the format allows at a
// path, and whether they are themselves allowed to be met only in the limit.
func (r *Recipe) Bounds(path string) (lo, hi float64, loOpen, hiOpen bool) {
	r.quantities(func(f field) {
		if f.path == path {
			lo, hi, loOpen, hiOpen = f.spec.min, f.spec.max, f.spec.minOpen, f.spec.maxOpen
		}
	})
	return lo, hi, loOpen, hiOpen
}

// Clone returns a deep copy.
func (r *Recipe) Clone() *Recipe {
	c := deepCopy(reflect.ValueOf(*r)).Interface().(Recipe)
	c.lines = r.lines // never written after parsing
	return &c
}

// deepCopy copies slices and pointers; unexported fields stay zero.
func deepCopy(v reflect.Value) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			p := reflect.New(v.Type().Elem())
			p.Elem().Set(deepCopy(v.Elem()))
			out.Set(p)
		}
	case reflect.Slice:
		if !v.IsNil() {
			out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
			for i := range v.Len() {
				out.Index(i).Set(deepCopy(v.Index(i)))
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				out.Field(i).Set(deepCopy(v.Field(i)))
			}
		}
	default:
		out.Set(v)
	}
	return out
}

// fillDefaults gives every quantity and word that the file left out its default.
func (r *Recipe) fillDefaults() {
	walk(reflect.ValueOf(r).Elem(), "", func(f field) {
		if !f.q.Given() && f.spec.hasDef && r.uses(f.path) {
			*f.q = Quantity{Value: f.spec.def, Source: Assumed, Note: DefaultNote}
		}
	}, func(_ string, words []string, v reflect.Value) {
		if v.String() == "" {
			v.SetString(words[0])
		}
	})
}
