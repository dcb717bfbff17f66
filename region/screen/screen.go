package screen

import (
	"context"

	"github.com/golang/geo/r3"
	"golang.org/x/sync/errgroup"

	"skinstock/mesh"
	"skinstock/mesh/finding"
)

// Screen looks a part over. The mesh must be closed and in mm; topo and shells
// are the mesh's own, nil computes them.
func Screen(ctx context.Context, m *mesh.Mesh, topo *mesh.Topology, shells []mesh.Shell, opt Options) (*Report, error) {
	opt, err := opt.check(m)
	if err != nil {
		return nil, err
	}
	p, err := newPart(ctx, m, topo, shells, opt)
	if err != nil {
		return nil, err
	}
	rep := &Report{}
	var all []finding.Finding
	step := 0
	const steps = 10
	done := func(fs []finding.Finding) {
		all = append(all, fs...)
		step++
		if opt.Progress != nil {
			opt.Progress(float64(step) / steps)
		}
	}

	rep.Cavities, rep.Strays = p.cavities()
	done(p.cavityFindings(rep.Cavities, rep.Strays))
	for f, a := range p.area {
		if !p.hollow[f] && !p.stray[f] {
			rep.AreaMM2 += a
		}
	}
	if err := p.sampleSkin(ctx); err != nil {
		return nil, err
	}
	done(nil)
	if rep.Bores, err = p.findBores(ctx); err != nil {
		return nil, err
	}
	done(nil)
	if rep.Slots, err = p.findSlots(ctx); err != nil {
		return nil, err
	}
	rep.Bores = p.ways(rep.Bores, rep.Slots)
	done(append(p.boreFindings(rep.Bores), p.slotFindings(rep.Slots)...))
	if err := p.rest(ctx, rep, done); err != nil {
		return nil, err
	}
	for i := range rep.Bores {
		rep.UnreachedMM2 += rep.Bores[i].Reach.UnreachedMM2
	}
	for i := range rep.Slots {
		rep.UnreachedMM2 += rep.Slots[i].Reach.UnreachedMM2
	}
	for i := range rep.Passages {
		rep.UnreachedMM2 += rep.Passages[i].UnreachedMM2
	}
	rep.Findings = finding.Sorted(all)
	rep.Verdict, rep.Reasons = judge(opt.Purpose, append(errorsOf(opt.Known), rep.Findings...))
	return rep, nil
}

// rest does what needs the holes only, side by side, and hands on the findings in a fixed order.
func (p *part) rest(ctx context.Context, rep *Report, done func([]finding.Finding)) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(p.workers())
	var walls, gaps []finding.Finding
	g.Go(func() (err error) {
		rep.Passages, err = p.passages(ctx)
		return err
	})
	g.Go(func() error {
		rep.SharpEdges, rep.Corners = p.edges()
		return nil
	})
	g.Go(func() error {
		rep.Wall, walls = p.walls()
		return nil
	})
	g.Go(func() error {
		rep.Gap, gaps = p.gaps()
		return nil
	})
	if p.opt.BathUp != (r3.Vector{}) {
		g.Go(func() (err error) {
			rep.Hanging, rep.Pockets, err = p.hang(ctx)
			return err
		})
	}
	g.Go(func() error {
		rep.Clamps = p.clamps()
		return nil
	})
	if err := g.Wait(); err != nil {
		return err
	}
	done(p.passageFindings(rep.Passages))
	done(p.edgeFindings(rep.SharpEdges, rep.Corners))
	done(walls)
	done(gaps)
	done(append(pocketFindings(rep.Pockets), p.hangFindings(rep.Hanging)...))
	done(p.clampFindings(rep.Clamps))
	return nil
}
