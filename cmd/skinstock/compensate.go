package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"skinstock/cmd/skinstock/internal/wholefile"
	"skinstock/offset"
)

// compensateFlags are the flags of compensate beyond those of every part.
type compensateFlags struct {
	partFlags
	out    string
	ascii  bool
	report string
	verify string

	finished string
	sections []string
}

// The levels of --verify.
const (
	verifyFull      = "full"
	verifyCrossings = "crossings"
	verifyOff       = "off"
)

var verifyLevels = [...]string{verifyFull, verifyCrossings, verifyOff}

const verifyHelp = `--verify full keeps gaps open, makes the surface free of crossings, and proves
the stock by distance. --verify crossings leaves the proof and its topping up
out. --verify off, for a quick look, proves NOTHING: walls do not look for
their neighbours, and neither the part nor the grown surface is searched for
crossings. Do not print from such a file; the report says so too.`

func (a *app) compensateCommand() *cobra.Command {
	var p compensateFlags
	cmd := &cobra.Command{
		Use:   "compensate PART.stl",
		Short: "Grow a part by what the bath will take, and prove that it finishes on size",
		Long: `compensate reads the part, sorts its skins by the build direction, works out the
allowance of each, moves the surface outwards by it, proves the result by
distance, and writes it as STL in mm. The input is never changed; an output
appears whole or not at all, and an existing file stays unless --force is given.
A surface that crosses itself is never written, but for --verify off.

` + verifyHelp + `

` + keepHelp,
		Example: `  skinstock compensate bracket.stl
  skinstock compensate bracket.stl -o grown.stl --recipe 316l-40 --report out
  skinstock compensate bracket.stl --allowance-um upskin=60,vertical=80,downskin=150
  skinstock compensate bracket.stl --keep "bore near 0,0,54" --keep "bore near -30,0,10 stock 0.5 name left"`,
		Args: needs("PART.stl"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.compensate(cmd.Context(), args[0], &p)
		},
	}
	p.add(cmd)
	p.addSurface(cmd)
	p.addRemesh(cmd)
	f := cmd.Flags()
	f.StringVarP(&p.out, "output", "o", "", "`FILE` for the grown part, .stl, .3mf or .ply, or - for standard output (default: PART-grown.stl beside the part)")
	f.BoolVar(&p.ascii, "ascii", false, "write ASCII STL")
	f.StringVar(&p.finished, "finished", "", "write the predicted finished surface as STL to `FILE`; needs --field full")
	f.StringVar(&p.report, "report", "", "write report page, pictures and figures into the folder `DIR`, which is made if need be")
	f.StringArrayVar(&p.sections, "section", nil, sectionUsage)
	f.StringVar(&p.verify, "verify", verifyFull, "`how` the result is proved: full, crossings or off, see above")
	completes(cmd, "verify", verifyLevels[:]...)
	return cmd
}

func (a *app) compensate(ctx context.Context, name string, p *compensateFlags) error {
	if err := p.settle(name); err != nil {
		return err
	}
	cuts, err := parseCuts(p.sections)
	if err != nil {
		return usage(err)
	}
	o, err := a.order(name, &p.partFlags)
	if err != nil {
		return err
	}
	if err := p.checkOutputs(name); err != nil {
		return err
	}
	o.take(p)
	o.cuts = cuts
	to := files{out: a.con.Out, force: p.force, inputs: []string{name}}
	show, done := a.con.Progress()
	defer done()
	_, doc, err := a.fulfil(ctx, o, to, show)
	if err != nil {
		return err
	}
	done()
	if p.out == "-" && p.json != "-" { // standard output carries the part
		con := *a.con
		con.Out = a.con.Err
		return (&app{con: &con}).deliver(ctx, doc, &p.partFlags, []string{name})
	}
	return a.deliver(ctx, doc, &p.partFlags, []string{name})
}

// settle checks the flags and fills in the default output.
func (p *compensateFlags) settle(name string) error {
	if err := checkFailOn(p.failOn); err != nil {
		return err
	}
	if !slices.Contains(verifyLevels[:], p.verify) {
		return badFlag("verify", fmt.Errorf("%q: use full, crossings or off", p.verify))
	}
	if p.remesh && p.verify == verifyOff {
		return badFlag("remesh", errors.New("a rebuilt surface is looked at for crossings: use --verify full or crossings"))
	}
	if p.out == "" {
		if name == "-" {
			return usage(errors.New("the part comes from standard input: name the output with -o"))
		}
		p.out = strings.TrimSuffix(name, filepath.Ext(name)) + "-grown.stl"
	}
	if err := checkFormat(p.out, ".stl", ".3mf", ".ply"); err != nil {
		return badFlag("output", err)
	}
	if err := checkFormat(p.finished, ".stl"); err != nil {
		return badFlag("finished", err)
	}
	if p.finished != "" && p.field != string(offset.FieldFull) {
		return badFlag("finished", errors.New("this is a prediction of the bath's field: add --field full"))
	}
	if len(p.sections) > 0 && p.report == "" {
		return usage(errors.New("--section draws into the report: add --report DIR"))
	}
	if p.out == "-" && p.json == "-" {
		return usage(errors.New("-o - and --json - both want standard output: name a file for one of them"))
	}
	return nil
}

// checkOutputs lets what would fail at the end fail before the work: files that
// are there already, folders that are none, one name for two outputs. A --json
// that names the report folder's own copy is left to the report.
func (p *compensateFlags) checkOutputs(name string) error {
	if p.report != "" && p.json != "" && filepath.Clean(p.json) == filepath.Join(p.report, "report.json") {
		p.json = ""
	}
	if err := checkDistinct(map[string]string{"-o": p.out, "--json": p.json, "--finished": p.finished}); err != nil {
		return usage(err)
	}
	inReport := reportFiles[:]
	for _, path := range []string{p.out, p.json, p.finished} {
		if p.report != "" && path != "" && path != "-" && filepath.Dir(path) == filepath.Clean(p.report) {
			inReport = append(inReport[:len(inReport):len(inReport)], filepath.Base(path)) // a folder that is yet to be made
		} else if path != "" && path != "-" {
			if err := wholefile.Check(path, wholefile.Options{Replace: p.force, Inputs: []string{name}}); err != nil {
				return outputError(err)
			}
		}
	}
	if p.report == "" {
		return nil
	}
	return checkFolder(p.report, inReport, p.force, name)
}

// solidName is the header of the output: the part's name without its path,
// what was done, and the unit.
func solidName(res *offset.Result) string {
	return partTitle(res.Part.Name, " grown by skinstock "+strings.Fields(version())[0]+" unit=mm")
}

// partTitle is a part's name without its path, and a tail, for a header of 80 bytes.
func partTitle(name, tail string) string {
	base := filepath.Base(name)
	base = strings.TrimSuffix(base, filepath.Ext(base))
	if room := 80 - len(tail); len(base) > room {
		base = base[:room]
	}
	return base + tail
}

// jobError gives an error of the pipeline its exit code and the part's name.
func jobError(part string, err error) error {
	if errors.Is(err, context.Canceled) {
		return err
	}
	if err, ok := zoneError(part, err); ok {
		return err
	}
	return badInput(fmt.Errorf("%s: %w", part, err))
}
