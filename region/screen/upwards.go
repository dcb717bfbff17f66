package screen

import (
	"context"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
)

// Pockets finds what holds gas or liquid when the part hangs with each of the
// directions up, and nothing else: a list for every direction. topo and shells
// are as in Screen; of the options, Limits and Workers count.
func Pockets(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, ups []r3.Vector, opt Options) ([][]Pocket, error) {
	var out [][]Pocket
	var p *part
	for _, up := range ups {
		opt := opt
		opt.BathUp = up
		opt, err := opt.check(m)
		if err != nil {
			return nil, err
		}
		if p == nil {
			if p, err = newPart(ctx, m, topo, nil, opt); err != nil {
				return nil, err
			}
			p.cavities() // marks the walls of closed hollows, which hold no bath
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		out = append(out, append(p.pockets(GasPocket, opt.BathUp), p.pockets(LiquidTrap, opt.BathUp)...))
	}
	return out, nil
}
