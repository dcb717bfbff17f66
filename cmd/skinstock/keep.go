package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"skinstock/mesh"
	"skinstock/region"
)

// keepHelp explains --keep.
const keepHelp = `Functional faces are kept with --keep, once for each zone, all lengths in mm:
  bore near X,Y,Z | plane near X,Y,Z             the feature of the part nearest there
  box X,Y,Z X,Y,Z                                between two corners: facets that lie in it whole
  cylinder X,Y,Z axis X,Y,Z diameter D length L  about its middle, likewise
  ball X,Y,Z diameter D                          likewise
  half-space X,Y,Z normal X,Y,Z                  what lies on the normal's side, likewise
  stl FILE                                       a closed body, likewise
then "mask" (the default: nothing is added, nothing comes off) or "stock MM" (so
much is printed on, to be machined later), "name WORDS" and "note WORDS". A zone
that touches nothing is wrong usage.`

// zones reads the keep zones; bodies are read in the part's units.
func (a *app) zones(p *partFlags) ([]region.Zone, error) {
	var out []region.Zone
	for _, text := range p.keep {
		z, err := region.ParseZone(text, func(path string) (*mesh.Mesh, error) {
			if !filepath.IsAbs(path) {
				path = filepath.Join(p.dir, path)
			}
			q := *p
			body, err := a.readPart(path, &q)
			if err != nil {
				return nil, err
			}
			p.bodies = append(p.bodies, body.SHA256)
			return body.Mesh, nil
		})
		if err != nil {
			var f *failure
			if errors.As(err, &f) { // a body's file that cannot be read
				return nil, &failure{code: f.code, err: fmt.Errorf("--keep: %w", err)}
			}
			return nil, badFlag("keep", err)
		}
		out = append(out, z)
	}
	return out, nil
}

// zoneError makes errors about where a zone lies wrong usage, with what helps.
func zoneError(part string, err error) (error, bool) {
	for _, e := range []error{region.ErrZoneEmpty, region.ErrNoFeature, region.ErrAllMasked} {
		if errors.Is(err, e) {
			return hinted(usage(fmt.Errorf("%s: %w", part, err)), "zones are given in mm in the part's own coordinates; screen --json lists the bores it finds with their places"), true
		}
	}
	return err, false
}
