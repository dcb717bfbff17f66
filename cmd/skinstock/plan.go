package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"skinstock/offset"
	"skinstock/offset/removal"
	"skinstock/report"
)

// planFlags are the flags of plan beyond those of every part.
type planFlags struct {
	partFlags
	sensitivity bool
	tolerance   string
	sizeMM      float64
	stressRatio float64
}

// swingShare is how far the sensitivity table moves each value.
const swingShare = 0.2

func (a *app) planCommand() *cobra.Command {
	var p planFlags
	cmd := &cobra.Command{
		Use:   "plan PART.stl",
		Short: "Work out allowances and the bath sheet; no geometry is written",
		Long: `plan sorts the part's skins and prints what each calls for, what the bath takes
from it, the allowance it needs, the bath time and what the bath draws: every
figure with its unit, the sum it comes from, and how far it is to be trusted.
The part is not changed and no geometry is written.

` + keepHelp,
		Example: `  skinstock plan bracket.stl
  skinstock plan bracket.stl --sensitivity
  skinstock plan bracket.stl --tolerance IT9 --size-mm 50 --json plan.json`,
		Args: needs("PART.stl"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkFailOn(p.failOn); err != nil {
				return err
			}
			pl, job, err := a.planPart(cmd.Context(), args[0], &p.partFlags)
			if err != nil {
				return err
			}
			doc := report.ComposePlan("plan", version(), pl)
			if doc.Planning, err = p.planning(pl); err != nil {
				return err
			}
			if doc.Field != nil {
				s, err := pl.PrimarySpread(cmd.Context(), job)
				if err != nil {
					return jobError(pl.Part.Name, err)
				}
				doc.Field.Primary = &report.Bound{Min: report.Number(s.Min), P05: report.Number(s.P05), P95: report.Number(s.P95), Max: report.Number(s.Max)}
			}
			return a.deliver(cmd.Context(), doc, &p.partFlags, args)
		},
	}
	p.add(cmd)
	f := cmd.Flags()
	f.BoolVar(&p.sensitivity, "sensitivity", false, "show how allowance, time and mass follow each recipe value moved by 20 %")
	f.StringVar(&p.tolerance, "tolerance", "", "compare the band of finished sizes with a `tolerance`: mm such as 0.1, IT9, or an ISO 2768 class such as m")
	f.Float64Var(&p.sizeMM, "size-mm", 0, "the size that --tolerance is meant for, `mm` (0: the part's longest side)")
	f.Float64Var(&p.stressRatio, "stress-ratio", -1, "`ratio` of least over greatest stress for the fatigue indication")
	return cmd
}

// planning gathers the tables asked for.
func (p *planFlags) planning(pl *offset.Planned) (*report.Planning, error) {
	if !(p.sizeMM >= 0) {
		return nil, usage(fmt.Errorf("--size-mm %g: give a length in mm", p.sizeMM))
	}
	if !(p.stressRatio < 1 && p.stressRatio >= -10) {
		return nil, usage(errors.New("--stress-ratio: give least over greatest stress, below 1"))
	}
	out := &report.Planning{Sheet: pl.Plan.Sheet(), Stages: pl.Plan.Stages, Bath: pl.Plan.Bath}
	size := p.sizeMM
	if size == 0 {
		size = max(pl.Plan.Part.SizeMM[0], pl.Plan.Part.SizeMM[1], pl.Plan.Part.SizeMM[2])
	}
	var wanted *removal.Wanted
	if p.tolerance != "" {
		w, err := removal.ParseWanted(p.tolerance, size)
		if err != nil {
			return nil, usage(fmt.Errorf("--tolerance: %w", err))
		}
		wanted = &w
	}
	var err error
	if out.Tolerance, err = pl.Plan.Tolerance(size, wanted); err != nil {
		return nil, usage(err)
	}
	if p.sensitivity {
		out.SwingShare = swingShare
		if out.Sensitivity, err = pl.Plan.Sensitivity(swingShare); err != nil {
			return nil, usage(err)
		}
	}
	if out.Fatigue = pl.Plan.Fatigue(p.stressRatio); out.Fatigue != nil {
		out.FatigueCaution = removal.FatigueCaution
	}
	return out, nil
}
