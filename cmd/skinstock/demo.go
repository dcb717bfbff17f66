package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"skinstock/cmd/skinstock/internal/demo"
	"skinstock/cmd/skinstock/internal/wholefile"
)

func (a *app) demoCommand() *cobra.Command {
	var force bool
	cmd := &cobra.Command{
		Use:   "demo DIR",
		Short: "Write a part, a recipe, coupons and the commands to try into a folder",
		Long: `demo writes what a first hour needs into a folder, which is made if it is not
there: a part, a recipe, coupons, a job file, and commands.txt with the commands
to try. Begin with that file.`,
		Example: "  skinstock demo first-hour",
		Args:    needs("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := args[0]
			if err := os.MkdirAll(dir, 0o777); err != nil {
				return badOutput(fmt.Errorf("%s: the folder cannot be made: %w", dir, err))
			}
			// All are checked before the first is written: half a demo helps nobody.
			for _, f := range demo.Files() {
				if err := wholefile.Check(filepath.Join(dir, f.Name), wholefile.Options{Replace: force}); err != nil {
					return outputError(err)
				}
			}
			for _, f := range demo.Files() {
				path := filepath.Join(dir, f.Name)
				if err := a.writeTo(cmd.Context(), path, force, nil, f.Fill); err != nil {
					return err
				}
				if _, err := fmt.Fprintf(a.con.Out, "%s: %s\n", path, f.Note); err != nil {
					return badOutput(err)
				}
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&force, "force", false, "replace existing files")
	return cmd
}
