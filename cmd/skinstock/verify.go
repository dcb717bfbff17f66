package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"

	"github.com/spf13/cobra"

	"skinstock/mesh/part"
	"skinstock/offset"
	"skinstock/report"
)

// verifyFlags are the flags of verify beyond those of every part.
type verifyFlags struct {
	partFlags
	from        string
	toleranceMM float64
}

func (a *app) verifyCommand() *cobra.Command {
	var p verifyFlags
	cmd := &cobra.Command{
		Use:   "verify NOMINAL GROWN",
		Short: "Prove by distance that a grown part finishes on size; any two files",
		Long: `verify measures, from the two files alone, whether the grown part carries the
stock that every place of the nominal part calls for: shortfall would finish
undersize, excess would be left over. What is called for comes from
--allowance-um, from the JSON report of the run that made the grown part
(--from), or from a recipe. The exit code is 1 when any place falls short by
more than the tolerance.

` + keepHelp,
		Example: `  skinstock verify bracket.stl bracket-grown.stl --allowance-um 150
  skinstock verify bracket.stl bracket-grown.stl --from report.json --tolerance-mm 0.002`,
		Args: needs("NOMINAL", "GROWN"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.verify(cmd, args, &p) },
	}
	p.add(cmd)
	p.addSurface(cmd)
	f := cmd.Flags()
	f.StringVar(&p.from, "from", "", "take build direction, recipe, units and allowances from the JSON report `FILE` of a run")
	f.Float64Var(&p.toleranceMM, "tolerance-mm", 0.001, "largest shortfall that passes, mm")
	return cmd
}

func (a *app) verify(cmd *cobra.Command, args []string, p *verifyFlags) error {
	if err := checkFailOn(p.failOn); err != nil {
		return err
	}
	if !(p.toleranceMM > 0) || math.IsInf(p.toleranceMM, 0) {
		return usage(fmt.Errorf("--tolerance-mm %g: give a positive length in mm", p.toleranceMM))
	}
	if args[0] == "-" && args[1] == "-" {
		return usage(errors.New("only one of the parts can come from standard input"))
	}
	var past *report.Document
	if p.from != "" {
		var err error
		if past, err = readReport(p.from); err != nil {
			return badInput(err)
		}
		p.follow(cmd, past)
	}
	job, err := a.job(&p.partFlags)
	if err != nil {
		return err
	}
	if err := p.checkJSON(args...); err != nil {
		return err
	}
	if past != nil {
		if err := sameProcess(past, &job); err != nil {
			return badInput(fmt.Errorf("%s: %w", p.from, err))
		}
	}
	nominal, err := a.readPart(args[0], &p.partFlags)
	if err != nil {
		return err
	}
	grown, err := a.readGrown(args[1], &p.partFlags, nominal)
	if err != nil {
		return err
	}
	show, done := a.con.Progress()
	defer done()
	job.Progress = show
	res, err := offset.Verify(cmd.Context(), nominal, grown, job, p.toleranceMM)
	if err != nil {
		return jobError(nominal.Name, err)
	}
	done()
	doc := report.ComposeVerify(version(), res, grown)
	if err := a.deliver(cmd.Context(), doc, &p.partFlags, args); err != nil {
		return err
	}
	if !res.Proof.Within() && p.failOn != "never" {
		short := max(res.Proof.All.Shortfall.Max.Value, res.Proof.GrownShortfall.Value)
		a.con.Hint("stock is short by %.1f um, and --tolerance-mm lets %.1f um pass: exit code 1", short*umPerMM, p.toleranceMM*umPerMM)
		return errFindings
	}
	return nil
}

// readGrown reads the grown part, which skinstock writes in mm whatever the
// nominal part's unit: where the two boxes disagree by far in the nominal's
// unit, mm it is.
func (a *app) readGrown(name string, p *partFlags, nominal *part.Part) (*part.Part, error) {
	q := *p
	q.units = ""
	grown, err := a.readPart(name, &q)
	if err != nil || p.units == "" {
		return grown, err
	}
	nl, nh := nominal.Mesh.Bounds()
	gl, gh := grown.Mesh.Bounds()
	if ratio := gh.Sub(gl).Norm() / nh.Sub(nl).Norm(); ratio > 0.5 && ratio < 2 {
		return grown, nil
	}
	return a.readPart(name, p)
}

func readReport(path string) (*report.Document, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, plainPath(err)
	}
	var d report.Document
	if err := json.Unmarshal(b, &d); err != nil {
		return nil, fmt.Errorf("%s: not a JSON report: %w", path, err)
	}
	if d.Schema != report.Schema {
		return nil, fmt.Errorf("%s: schema %q is not %s", path, d.Schema, report.Schema)
	}
	return &d, nil
}

// follow takes from a past report what no flag says otherwise.
func (p *verifyFlags) follow(cmd *cobra.Command, d *report.Document) {
	set := cmd.Flags().Changed
	if !set("build-dir") {
		p.buildDir = fmt.Sprintf("%v,%v,%v", float64(d.BuildDir[0]), float64(d.BuildDir[1]), float64(d.BuildDir[2]))
	}
	if !set("recipe") {
		p.recipe = d.Recipe.File
	}
	if !set("chord-um") && d.Surface != nil {
		p.chordUM = float64(d.Surface.ChordUM)
	}
	if !set("field") && d.Field != nil {
		p.field = d.Field.Model
	}
	if !set("keep") {
		for _, z := range d.Keep {
			text := z.Shape + " " + z.Treatment
			if z.Name != z.Shape {
				text += " name " + z.Name
			}
			if z.Note != "" {
				text += " note " + z.Note
			}
			p.keep = append(p.keep, text)
		}
	}
	if !set("units") && d.Input.Units != "mm" {
		p.units = d.Input.Units
	}
	if !set("allowance-um") {
		text := ""
		for _, s := range d.Skins {
			if s.Fixed {
				text += fmt.Sprintf(",%s=%v", s.Skin, float64(s.GivenUM))
			}
		}
		if text != "" {
			p.allowance = text[1:]
		}
	}
}

// sameProcess refuses a recipe that is not the one the report was made with,
// unless every skin's allowance was given by hand.
func sameProcess(d *report.Document, job *offset.Job) error {
	for _, s := range d.Skins {
		if _, given := job.FixedUM[s.Skin]; !given && d.Recipe.SHA256 != job.Recipe.SHA256 {
			return fmt.Errorf("recipe %s is not the one the report was made with: its digest differs; name the right one with --recipe", job.Recipe.Name)
		}
	}
	return nil
}
