package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"
	"github.com/spf13/cobra"

	"skinstock/mesh"
	"skinstock/mesh/part"
	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/offset/removal"
	"skinstock/region"
)

// partFlags are the flags of every command that reads a part and a recipe.
type partFlags struct {
	recipe    string
	buildDir  string
	units     string
	weldTolMM float64
	allowance string
	json      string
	failOn    string
	field     string
	force     bool
	keep      []string
	chordUM   float64
	remesh    bool

	dir    string   // folder that files in the settings are relative to; empty for the current one
	bodies []string // digests of the bodies of keep zones, once they are read
}

func (p *partFlags) add(cmd *cobra.Command) {
	p.addSettings(cmd)
	f := cmd.Flags()
	f.StringVar(&p.json, "json", "", "write the report as JSON to `FILE`, or - for standard output and nothing else there")
	f.BoolVar(&p.force, "force", false, "replace existing output files (never an input)")
}

// addSettings adds the flags that say how a part is done, without those of single files.
func (p *partFlags) addSettings(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&p.recipe, "recipe", "ti-6al-4v-30", "recipe: a built-in `name`, a YAML file, or - for standard input")
	f.StringVar(&p.buildDir, "build-dir", "0,0,1", "build `direction` x,y,z from the first layer to the last, an axis such as -y, or best to choose it as orient does")
	f.StringVar(&p.units, "units", "", "`unit` of the file's numbers: mm, cm, m, inch or um (default: what the file states, mm for STL)")
	f.Float64Var(&p.weldTolMM, "weld-tol-mm", 0, "widest crack to close, `mm` (0: by the part's size and precision)")
	f.StringVar(&p.allowance, "allowance-um", "", "fixed allowance in `um` in place of the computed one: 150, or upskin=60,vertical=80,downskin=150")
	f.StringArrayVar(&p.keep, "keep", nil, "keep `ZONE` as it is, mm: \"bore near X,Y,Z\", \"plane near X,Y,Z\", a box, cylinder, ball, half-space or \"stl FILE\", then mask or stock MM; repeatable, see above")
	f.StringVar(&p.field, "field", "none", "`model` of where the bath's current goes: none (all places alike), fast, or full")
	f.StringVar(&p.failOn, "fail-on", "error", "least `severity` that ends with exit code 1: info, warning, error or never")
	_ = cmd.RegisterFlagCompletionFunc("recipe", completeRecipes)
	completes(cmd, "build-dir", "best", "x", "y", "z", "-x", "-y", "-z")
	completes(cmd, "units", "mm", "cm", "m", "inch", "um")
	completes(cmd, "field", "none", "fast", "full")
	completes(cmd, "fail-on", "info", "warning", "error", "never")
}

// addSurface adds the flags that say how the surface may be cut finer to be grown.
func (p *partFlags) addSurface(cmd *cobra.Command) {
	cmd.Flags().Float64Var(&p.chordUM, "chord-um", offset.DefaultChordUM, "cut large facets where the allowance inside is off by more than so many `um`, and hold a rebuilt surface to it (0: leave every facet whole)")
}

// addRemesh adds the flag that has the surface rebuilt.
func (p *partFlags) addRemesh(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&p.remesh, "remesh", false, "rebuild the grown surface from the distance to the part instead of moving its facets: facets are new ones, bodies that overlap become one")
}

// chord returns the tolerance as a job takes it.
func (p *partFlags) chord() (float64, error) {
	switch {
	case !(p.chordUM >= 0 && p.chordUM <= 1000):
		return 0, badFlag("chord-um", fmt.Errorf("%g: give 0 to 1000 um", p.chordUM))
	case p.chordUM == 0:
		return -1, nil
	}
	return p.chordUM, nil
}

// completes offers the words a flag takes to the shell.
func completes(cmd *cobra.Command, flag string, words ...string) {
	_ = cmd.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp))
}

// job turns the flags into a job.
func (a *app) job(p *partFlags) (offset.Job, error) {
	rec, err := loadRecipe(p.recipe, "", a.con.In)
	if err != nil {
		return offset.Job{}, err
	}
	return a.jobWith(p, rec)
}

// jobWith is job with the recipe read already.
func (a *app) jobWith(p *partFlags, rec *recipe.Recipe) (offset.Job, error) {
	var j offset.Job
	var dir r3.Vector
	var err error
	if p.buildDir != bestDir {
		if dir, err = parseDir(p.buildDir); err != nil {
			return j, badFlag("build-dir", err)
		}
	}
	var fixed map[region.Skin]float64
	if p.allowance != "" {
		if fixed, err = removal.ParseFixed(p.allowance); err != nil {
			return j, badFlag("allowance-um", err)
		}
	}
	model, err := offset.ParseFieldModel(p.field)
	if err != nil {
		return j, badFlag("field", err)
	}
	zones, err := a.zones(p)
	if err != nil {
		return j, err
	}
	chord, err := p.chord()
	if err != nil {
		return j, err
	}
	return offset.Job{
		Recipe: rec, BuildDir: dir, Best: p.buildDir == bestDir, FixedUM: fixed, Zones: zones, Field: model, Workers: a.workers,
		ChordUM: chord, Remesh: p.remesh,
	}, nil
}

// readOptions turns the flags into how a part is read.
func (p *partFlags) readOptions() (part.Options, error) {
	opt := part.Options{WeldTolMM: p.weldTolMM}
	if p.units != "" {
		unit, err := mesh.ParseUnit(p.units)
		if err != nil {
			return opt, badFlag("units", err)
		}
		opt.Unit = unit
	}
	return opt, nil
}

// order turns the flags into an order for the part named on the command line,
// which asks for no file yet.
func (a *app) order(name string, p *partFlags) (*order, error) {
	rec, err := loadRecipe(p.recipe, "", a.con.In)
	if err != nil {
		return nil, err
	}
	return a.orderWith(name, p, rec)
}

// orderWith is order with the recipe read already.
func (a *app) orderWith(name string, p *partFlags, rec *recipe.Recipe) (*order, error) {
	job, err := a.jobWith(p, rec)
	if err != nil {
		return nil, err
	}
	read, err := p.readOptions()
	if err != nil {
		return nil, err
	}
	o := &order{name: name, path: name, read: read, job: job}
	if name == "-" {
		o.name = "standard input"
	}
	return o, nil
}

// readPart reads the part named on the command line; - is standard input.
func (a *app) readPart(name string, p *partFlags) (*part.Part, error) {
	o := order{name: name, path: name}
	if name == "-" {
		o.name = "standard input"
	}
	var err error
	if o.read, err = p.readOptions(); err != nil {
		return nil, err
	}
	return a.readOrder(&o)
}

// readOrder reads the part of an order.
func (a *app) readOrder(o *order) (*part.Part, error) {
	var r io.Reader = a.con.In
	size := int64(-1)
	if o.path != "-" {
		f, err := os.Open(o.path)
		if err != nil {
			return nil, badInput(fmt.Errorf("%s: %w", o.name, bare(err)))
		}
		defer f.Close()
		st, err := f.Stat()
		if err != nil {
			return nil, badInput(err)
		}
		if st.IsDir() {
			return nil, badInput(fmt.Errorf("%s: this is a folder, not a part", o.name))
		}
		if st.Mode().IsRegular() {
			size = st.Size()
			if err := a.fits(o, f, size); err != nil {
				return nil, err
			}
		}
		r = f
	}
	pt, err := part.Read(o.name, r, size, o.read)
	if errors.Is(err, part.ErrUnit) {
		return nil, usage(err)
	}
	if open := (*mesh.NotSolidError)(nil); errors.As(err, &open) && open.Open > 0 {
		return nil, badInput(fmt.Errorf("%w (--weld-tol-mm)", err)) // the tolerance that the message ends with
	}
	if err != nil {
		return nil, badInput(err)
	}
	return pt, nil
}

// bare drops the operation and the path of a file error: the message names the part itself.
func bare(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// planPart reads a part and plans it.
func (a *app) planPart(ctx context.Context, name string, p *partFlags) (*offset.Planned, offset.Job, error) {
	o, err := a.order(name, p)
	if err != nil {
		return nil, offset.Job{}, err
	}
	if err := p.checkJSON(name); err != nil {
		return nil, offset.Job{}, err
	}
	pt, err := a.readOrder(o)
	if err != nil {
		return nil, o.job, err
	}
	pl, err := offset.Plan(ctx, pt, o.job)
	if err != nil {
		return nil, o.job, jobError(pt.Name, err)
	}
	return pl, o.job, nil
}

// growPart reads the part of an order and does the whole job on it, telling show how far it is.
func (a *app) growPart(ctx context.Context, o *order, show func(stage string, share float64)) (*offset.Result, error) {
	o.job.Progress = show
	pt, err := a.readOrder(o)
	if err != nil {
		return nil, err
	}
	res, err := offset.Compensate(ctx, pt, o.job)
	if err != nil {
		return nil, jobError(pt.Name, err)
	}
	return res, nil
}

// bestDir asks for the build direction that orient ranks first.
const bestDir = "best"

// parseDir reads x,y,z, or an axis with or without a sign.
func parseDir(s string) (r3.Vector, error) {
	var v r3.Vector
	switch strings.ToLower(strings.TrimPrefix(s, "+")) {
	case "x":
		return r3.Vector{X: 1}, nil
	case "y":
		return r3.Vector{Y: 1}, nil
	case "z":
		return r3.Vector{Z: 1}, nil
	case "-x":
		return r3.Vector{X: -1}, nil
	case "-y":
		return r3.Vector{Y: -1}, nil
	case "-z":
		return r3.Vector{Z: -1}, nil
	}
	bad := fmt.Errorf("%q: give three numbers such as 0,0,1 that are not all zero, an axis such as -y, or best", s)
	fields := strings.Split(s, ",")
	if len(fields) != 3 {
		return v, bad
	}
	for i, p := range []*float64{&v.X, &v.Y, &v.Z} {
		x, err := strconv.ParseFloat(strings.TrimSpace(fields[i]), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return v, bad
		}
		*p = x
	}
	if n := v.Norm(); !(n > 0) || math.IsInf(n, 0) {
		return v, bad
	}
	return v, nil
}
