package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

func (a *app) manCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "man DIR",
		Short: "Write the manual pages, one a command, into a folder",
		Long: `man writes manual pages (section 1) made from the same text as --help into a
folder, which is made if it is not there. Pages of the same name are replaced.`,
		Example: `  skinstock man ./man1
  man ./man1/skinstock-compensate.1`,
		Args: needs("DIR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o777); err != nil {
				return badOutput(fmt.Errorf("%s: the folder cannot be made: %w", args[0], err))
			}
			header := &doc.GenManHeader{Section: "1", Source: "skinstock", Manual: "skinstock manual"}
			if t := revisionTime(); !t.IsZero() {
				header.Date = &t // the same source makes the same pages
			}
			cmd.Root().DisableAutoGenTag = true
			if err := doc.GenManTree(cmd.Root(), header, args[0]); err != nil {
				return badOutput(err)
			}
			return nil
		},
	}
}
