package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"
	"github.com/spf13/cobra"

	"skinstock/cmd/skinstock/internal/wholefile"
	"skinstock/mesh/file"
	"skinstock/mesh/stl"
	"skinstock/mesh/threemf"
	"skinstock/offset"
	"skinstock/region/orient"
	"skinstock/region/screen"
	"skinstock/report"
)

// orientFlags are the flags of orient beyond those of every part.
type orientFlags struct {
	partFlags
	directions int
	space      string
	pockets    bool
	apply      string
	picture    string
}

func (a *app) orientCommand() *cobra.Command {
	var p orientFlags
	cmd := &cobra.Command{
		Use:   "orient PART.stl",
		Short: "Rank build directions by downskin, bath time, stock, supports and height",
		Long: `orient tries directions spread evenly over the sphere, sorts the part's skins for
each, works out what the process makes of them, and ranks them: downskin and the
removal it calls for, bath time, stock added, flat downskin that needs supports,
and height and footprint of the build. The best are refined and tried on the real
mesh, beside the direction of --build-dir. A table shows time against height, and
--map draws the score over the sphere. --apply writes the part turned to stand on
its best side; "compensate --build-dir best" plans for it and leaves the part as it
lies. The bath's field is not taken into account.

Scores rest on the recipe's values, assumed until measured; limits of supports and
the weights of a score are assumptions too.

` + keepHelp,
		Example: `  skinstock orient bracket.stl
  skinstock orient bracket.stl --map directions.svg --apply turned.stl
  skinstock orient bracket.stl --build-dir x --build-space 250,250,300 --pockets`,
		Args: needs("PART.stl"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.orient(cmd.Context(), args[0], &p) },
	}
	p.add(cmd)
	f := cmd.Flags()
	f.IntVar(&p.directions, "directions", orient.DefaultDirections, "how many directions to try, spread evenly, 100 to 100000")
	f.StringVar(&p.space, "build-space", "", "build space of the machine, `length,width,height` in mm (default: the recipe's print.envelope_mm, or no limit)")
	f.BoolVar(&p.pockets, "pockets", false, "tell for each direction what would hold gas or liquid if the part hung in the bath as it was built")
	f.StringVar(&p.apply, "apply", "", "write the part turned to the best direction, on z = 0, to `FILE`, .stl or .3mf, in mm")
	f.StringVar(&p.picture, "map", "", "draw the score of all directions to `FILE`, .png or .svg")
	return cmd
}

// settle checks the flags.
func (p *orientFlags) settle(name string) ([3]float64, error) {
	var space [3]float64
	if err := checkFailOn(p.failOn); err != nil {
		return space, err
	}
	if p.field != "none" {
		return space, badFlag("field", errors.New("directions are ranked without the bath's field: leave it out"))
	}
	if p.directions < 100 || p.directions > 100000 {
		return space, badFlag("directions", fmt.Errorf("%d: give 100 to 100000", p.directions))
	}
	if p.buildDir == bestDir {
		return space, badFlag("build-dir", errors.New("name the direction to compare with: best is what orient looks for"))
	}
	if err := checkFormat(p.apply, ".stl", ".3mf"); err != nil {
		return space, badFlag("apply", err)
	}
	if err := checkFormat(p.picture, ".png", ".svg"); err != nil {
		return space, badFlag("map", err)
	}
	if p.apply == "-" {
		return space, badFlag("apply", errors.New("name a file"))
	}
	if p.picture == "-" {
		return space, badFlag("map", errors.New("name a file"))
	}
	if err := checkDistinct(map[string]string{"--apply": p.apply, "--map": p.picture, "--json": p.json}); err != nil {
		return space, usage(err)
	}
	for _, path := range []string{p.apply, p.picture, p.json} {
		if path != "" && path != "-" {
			if err := wholefile.Check(path, wholefile.Options{Replace: p.force, Inputs: []string{name}}); err != nil {
				return space, outputError(err)
			}
		}
	}
	if p.space == "" {
		return space, nil
	}
	space, err := parseSpace(p.space)
	if err != nil {
		return space, badFlag("build-space", err)
	}
	return space, nil
}

// parseSpace reads the three sides of a build space.
func parseSpace(s string) ([3]float64, error) {
	var out [3]float64
	fields := strings.Split(s, ",")
	if len(fields) != 3 {
		return out, fmt.Errorf("%q: give length,width,height in mm, such as 250,250,300", s)
	}
	for i, f := range fields {
		x, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
		if err != nil || !(x > 0) || math.IsInf(x, 0) {
			return out, fmt.Errorf("%q: %q is no length above 0 mm", s, f)
		}
		out[i] = x
	}
	return out, nil
}

func (a *app) orient(ctx context.Context, name string, p *orientFlags) error {
	space, err := p.settle(name)
	if err != nil {
		return err
	}
	o, err := a.order(name, &p.partFlags)
	if err != nil {
		return err
	}
	o.job.EnvelopeMM, o.job.Directions = space, p.directions
	show, done := a.con.Progress()
	defer done()
	o.job.Progress = show
	pt, err := a.readOrder(o)
	if err != nil {
		return err
	}
	pl, err := offset.Orient(ctx, pt, o.job)
	if err != nil {
		return jobError(pt.Name, err)
	}
	var pockets [][]screen.Pocket
	if p.pockets {
		show("pockets", 0.8)
		if pockets, err = upright(ctx, pl, o.job, a.workers); err != nil {
			return jobError(pt.Name, err)
		}
	}
	doc := report.ComposeOrient(version(), pl, o.job, pockets)
	if err := a.writeOriented(ctx, pl, doc, p, name); err != nil {
		return err
	}
	done()
	return a.deliver(ctx, doc, &p.partFlags, []string{name})
}

// upright finds the pockets for the best directions and the current one, up.
func upright(ctx context.Context, pl *offset.Planned, job offset.Job, workers int) ([][]screen.Pocket, error) {
	var ups []r3.Vector
	for _, c := range pl.Chosen.Best {
		ups = append(ups, c.Dir)
	}
	if c := pl.Chosen.Current; c != nil {
		ups = append(ups, c.Dir)
	}
	return screen.Pockets(ctx, pl.Nominal, pl.Topo, ups, screen.Options{Limits: screenLimits(job.Recipe), Workers: workers})
}

// writeOriented writes the map and the turned part.
func (a *app) writeOriented(ctx context.Context, pl *offset.Planned, doc *report.Document, p *orientFlags, name string) error {
	if p.picture != "" {
		d, err := report.DirectionMap(pl, doc).Drawing()
		if err != nil {
			return badOutput(err)
		}
		svg := strings.HasSuffix(strings.ToLower(p.picture), ".svg")
		if err := a.writeTo(ctx, p.picture, p.force, []string{name}, func(w io.Writer) error { return writeDrawing(w, d, svg) }); err != nil {
			return err
		}
	}
	if p.apply == "" {
		return nil
	}
	turned := orient.Turn(pl.Part.Mesh, pl.BuildDir)
	title := partTitle(pl.Part.Name, " turned by skinstock "+strings.Fields(version())[0]+" unit=mm")
	return a.writeTo(ctx, p.apply, p.force, []string{name}, func(w io.Writer) error {
		if strings.HasSuffix(strings.ToLower(p.apply), ".3mf") {
			return threemf.Write(w, turned, threemf.WriteOptions{Metadata: []file.Metadata{{Name: "Title", Value: title}, {Name: "Application", Value: "skinstock"}}})
		}
		return stl.WriteBinary(w, turned, title)
	})
}
