package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"skinstock/mesh"
	"skinstock/mesh/file"
	"skinstock/mesh/ply"
	"skinstock/mesh/stl"
	"skinstock/mesh/threemf"
	"skinstock/offset"
	"skinstock/region"
	"skinstock/report/sheet"
)

// checkFormat refuses an output name whose ending promises a format that is not written.
func checkFormat(path string, endings ...string) error {
	if path == "" || path == "-" {
		return nil
	}
	ext := strings.ToLower(filepath.Ext(path))
	for _, e := range endings {
		if ext == e {
			return nil
		}
	}
	return fmt.Errorf("%s: end the name in %s", path, strings.Join(endings, " or "))
}

// writePart writes the grown part in the format its name asks for: STL, 3MF
// with a colour for each skin, or PLY with the allowance at every vertex.
func writePart(w io.Writer, res *offset.Result, path string, ascii bool) error {
	title := solidName(res)
	switch ext := strings.ToLower(filepath.Ext(path)); {
	case ext == ".ply":
		return ply.Write(w, res.Grown, vertexScalars(res), title)
	case ext == ".3mf":
		return threemf.Write(w, res.Grown, modelOptions(res, title))
	case ascii:
		return stl.WriteASCII(w, res.Grown, title)
	}
	return stl.WriteBinary(w, res.Grown, title)
}

// vertexScalars are the allowance and, after a field run, the factor of the
// bath's local current at every vertex of the grown part.
func vertexScalars(res *offset.Result) []ply.Scalar {
	allowance := res.AtGrown(res.Allowance)
	for i := range allowance {
		allowance[i] *= 1000 // um
	}
	out := []ply.Scalar{{Name: "allowance_um", Values: allowance}}
	if res.Exposed != nil {
		factor := make(mesh.CornerField, len(res.Nominal.Facets))
		for f, t := range res.Nominal.Facets {
			for k, v := range t {
				factor[f][k] = res.Exposed.Field.Factor[v]
			}
		}
		out = append(out, ply.Scalar{Name: "field_factor", Values: res.AtGrown(factor)})
	}
	return out
}

// modelOptions makes an object of every body and paints the facets by skin, as the pictures do.
func modelOptions(res *offset.Result, title string) threemf.WriteOptions {
	opt := threemf.WriteOptions{Metadata: []file.Metadata{{Name: "Title", Value: title}, {Name: "Application", Value: "skinstock"}}}
	of, n := res.Grown.Bodies(res.Grown.Topology())
	opt.BodyOf, opt.Bodies = of, make([]string, n)
	for _, s := range res.Grown.Solids {
		for _, f := range of[s.First : s.First+s.Count] {
			if opt.Bodies[f] == "" { // the first solid of a body names it
				opt.Bodies[f] = s.Name
			}
		}
	}
	for _, s := range region.Skins {
		c := sheet.Styles[s].Colour
		opt.Colours = append(opt.Colours, [3]uint8{uint8(c >> 16), uint8(c >> 8), uint8(c)})
	}
	opt.ColourOf = make([]uint8, len(res.Grown.Facets))
	for f := range opt.ColourOf {
		n := f
		if res.NominalOf != nil {
			n = int(res.NominalOf[f])
		}
		opt.ColourOf[f] = uint8(res.Sorting.Skin[n])
	}
	return opt
}
