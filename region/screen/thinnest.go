package screen

import (
	"context"

	"skinstock/mesh"
)

// ThinnestWall measures the solid thickness alone, as Screen does: quick
// enough to ask for a picture's sake. The arguments are those of Screen. A
// part without facing skins has an infinite thickness.
func ThinnestWall(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, opt Options) (Least, error) {
	opt, err := opt.check(m)
	if err != nil {
		return Least{}, err
	}
	p, err := newPart(ctx, m, topo, nil, opt)
	if err != nil {
		return Least{}, err
	}
	p.cavities()
	if err := p.sampleSkin(ctx); err != nil {
		return Least{}, err
	}
	return p.least(p.pairs(true)), nil
}
