package main

import (
	"github.com/spf13/cobra"

	"skinstock/offset"
	"skinstock/report"
)

func (a *app) planCommand() *cobra.Command {
	var p partFlags
	cmd := &cobra.Command{
		Use:   "plan PART.stl",
		Short: "Work out allowances and the bath sheet; no geometry is written",
		Long: `plan sorts the part's skins and prints what each calls for, what the bath takes
from it, the allowance it needs, the bath time and what the bath draws. The part
is not changed and no geometry is written.`,
		Example: `  skinstock plan bracket.stl
  skinstock plan bracket.stl --recipe mine.yaml --build-dir 0,1,0 --json plan.json`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkFailOn(p.failOn); err != nil {
				return err
			}
			job, err := a.job(&p)
			if err != nil {
				return err
			}
			pt, err := a.readPart(args[0], &p)
			if err != nil {
				return err
			}
			pl, err := offset.Plan(cmd.Context(), pt, job)
			if err != nil {
				return jobError(pt.Name, err)
			}
			return a.deliver(cmd.Context(), report.ComposePlan("plan", version(), pl), &p, args)
		},
	}
	p.add(cmd)
	return cmd
}
