package main

import (
	"fmt"
	"os"
	"strings"

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
			verbatim(cmd.Root())
			if err := doc.GenManTree(cmd.Root(), header, args[0]); err != nil {
				return badOutput(err)
			}
			return nil
		},
	}
}

// verbatim makes the indented lines of all help texts stand as they are in the
// pages, which are made by way of Markdown: there a line indented by less than
// four blanks is running text, and the stars of a pattern are marks.
func verbatim(cmd *cobra.Command) {
	var b strings.Builder
	before := ""
	for _, line := range strings.Split(cmd.Long, "\n") {
		if strings.HasPrefix(line, "  ") {
			if before != "" && !strings.HasPrefix(before, "  ") {
				b.WriteString("\n") // a block begins behind an empty line
			}
			b.WriteString("    ")
		} else if line != "" && strings.HasPrefix(before, "  ") {
			b.WriteString("\n")
		}
		b.WriteString(line + "\n")
		before = line
	}
	cmd.Long = b.String()
	for _, c := range cmd.Commands() {
		verbatim(c)
	}
}
