package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"skinstock/cmd/skinstock/internal/wholefile"
	"skinstock/offset/calibrate"
	"skinstock/offset/recipe"
	"skinstock/report"
	"skinstock/report/residual"
)

// calibrateFlags are the flags of calibrate.
type calibrateFlags struct {
	base, name, out, plot, json string
	force                       bool
}

func (a *app) calibrateCommand() *cobra.Command {
	var p calibrateFlags
	cmd := &cobra.Command{
		Use:   "calibrate COUPONS.csv",
		Short: "Fit a recipe to coupon measurements",
		Long: `calibrate reads a table of coupons, small pieces printed at known inclinations,
measured, treated in the bath and measured again. It fits levelling depth and
floor, removal rate, current efficiency and roughness against inclination, with
95 % intervals, names outliers, and writes a recipe whose fitted values are
marked measured. What the coupons do not tell stays as in the base recipe.

Rows with hole_diameter_mm are places in blind holes: how fast removal falls with
depth gives the polarisation length of the bath, which decides how even the
current is. Measure from one radius below the mouth downwards.

Columns; an empty cell is what was not measured:
` + columnTable(),
		Example: `  skinstock calibrate coupons.csv -o mine.yaml
  skinstock calibrate coupons.csv --recipe 316l-40 --name shop-316l -o shop.yaml --plot residuals.svg`,
		Args: needs("COUPONS.csv"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.calibrate(cmd.Context(), args[0], &p)
		},
	}
	f := cmd.Flags()
	f.StringVar(&p.base, "recipe", recipe.Default, "base recipe: a built-in `name` or a YAML file")
	f.StringVar(&p.name, "name", "", "name of the new recipe (default: the base's with -measured)")
	f.StringVarP(&p.out, "output", "o", "", "write the recipe to `FILE`, or - for standard output (default: only print the fit)")
	f.StringVar(&p.plot, "plot", "", "draw the residuals into `FILE`, .svg or .png")
	f.StringVar(&p.json, "json", "", "write the fit as JSON to `FILE`, or - for standard output")
	f.BoolVar(&p.force, "force", false, "replace existing output files")
	_ = cmd.RegisterFlagCompletionFunc("recipe", completeRecipes)
	return cmd
}

func (a *app) calibrate(ctx context.Context, name string, p *calibrateFlags) error {
	inputs := []string{name, p.base}
	for _, out := range []string{p.out, p.plot, p.json} {
		if out != "" && out != "-" {
			if err := wholefile.Check(out, wholefile.Options{Replace: p.force, Inputs: inputs}); err != nil {
				return outputError(err)
			}
		}
	}
	if p.out == "-" && p.json == "-" {
		return usage(errors.New("-o - and --json - both want standard output: name a file for one of them"))
	}
	base, err := loadRecipe(p.base, "", a.con.In)
	if err != nil {
		return err
	}
	res, err := a.fit(name, base, p.name)
	if err != nil {
		return badInput(err)
	}
	if p.out != "" {
		if err := a.writeTo(ctx, p.out, p.force, inputs, func(w io.Writer) error { _, err := w.Write(res.YAML); return err }); err != nil {
			return err
		}
	}
	if p.plot != "" {
		if err := a.plotResiduals(ctx, p, inputs, res); err != nil {
			return err
		}
	}
	if p.json != "" {
		if err := a.writeTo(ctx, p.json, p.force, inputs, func(w io.Writer) error {
			e := json.NewEncoder(w)
			e.SetIndent("", "  ")
			return e.Encode(res)
		}); err != nil {
			return err
		}
	}
	if p.out == "-" || p.json == "-" {
		return nil
	}
	return report.WriteCalibration(safeWriter{a.con.Out}, res)
}

// fit reads the coupons and fits the base recipe to them.
func (a *app) fit(name string, base *recipe.Recipe, newName string) (*calibrate.Result, error) {
	var r io.Reader = a.con.In
	label := "standard input"
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, plainPath(err)
		}
		defer f.Close()
		r, label = f, filepath.Base(name)
	}
	coupons, err := calibrate.Read(label, r)
	if err != nil {
		return nil, err
	}
	res, err := calibrate.Run(coupons, base, calibrate.Options{Name: newName, By: label})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", label, err)
	}
	return res, nil
}

func (a *app) plotResiduals(ctx context.Context, p *calibrateFlags, inputs []string, res *calibrate.Result) error {
	form := residual.Format(strings.TrimPrefix(strings.ToLower(filepath.Ext(p.plot)), "."))
	b, err := residual.Draw(res, form)
	if errors.Is(err, residual.ErrFormat) {
		return usage(fmt.Errorf("--plot %s: end the name in .svg or .png", p.plot))
	}
	if err != nil {
		return badOutput(err)
	}
	return a.writeTo(ctx, p.plot, p.force, inputs, func(w io.Writer) error { _, err := w.Write(b); return err })
}

// columnTable lists the columns of a coupon table for the help text.
func columnTable() string {
	var b strings.Builder
	for _, c := range calibrate.Columns() {
		must := ""
		if c.Must {
			must = "; must be there"
		}
		fmt.Fprintf(&b, "  %-20s %s%s\n", c.Name, c.Doc, must)
	}
	return b.String()
}
