package main

import (
	"fmt"
	"runtime"

	"github.com/spf13/cobra"

	"skinstock/cmd/skinstock/internal/console"
)

// app is what every subcommand shares.
type app struct {
	con     *console.Console
	workers int
	color   string

	memoryFlag string
	maxMemory  int64 // bytes; 0 where neither the user nor the system tells
	watched    *watched
}

// newRoot returns the program's commands and what they share.
func newRoot(con *console.Console) (*app, *cobra.Command) {
	a := &app{con: con}
	root := &cobra.Command{
		Use:   "skinstock",
		Short: "Add to a printed metal part what the polishing bath will take",
		Long: `skinstock reads the STL of a part that will be laser-sintered and then
electropolished, sorts its faces into upskin, downskin and vertical by the build
direction, gives each skin the allowance its roughness calls for, moves the
surface outwards by it, and proves on the result that the part finishes on size.

` + exitTable,
		Example: `  skinstock demo first-hour
  skinstock compensate bracket.stl --report out
  skinstock plan bracket.stl --recipe in718-40`,
		Version:       version(),
		SilenceUsage:  true,
		SilenceErrors: true,
		PersistentPreRunE: func(cmd *cobra.Command, _ []string) error {
			switch a.color {
			case "auto":
			case "always":
				a.con.Color = true
			case "never":
				a.con.Color = false
			default:
				return usage(fmt.Errorf("--color %s: use auto, always or never", a.color))
			}
			if a.workers < 0 {
				return usage(fmt.Errorf("--workers %d: use a number from 1, or 0 for one a core", a.workers))
			}
			if a.workers == 0 {
				a.workers = runtime.GOMAXPROCS(0)
			}
			runtime.GOMAXPROCS(a.workers) // for what takes no number of workers
			return a.setMemory(cmd)
		},
	}
	root.SetVersionTemplate("skinstock {{.Version}}" + revisionDate() + "\n")
	root.SetIn(con.In)
	root.SetOut(con.Out)
	root.SetErr(con.Err)
	f := root.PersistentFlags()
	f.BoolVarP(&con.Quiet, "quiet", "q", false, "no warnings, hints or progress on standard error")
	f.IntVarP(&a.workers, "workers", "j", 0, "`number` of cores to use (0: all); the result is the same whatever the number")
	f.StringVar(&a.memoryFlag, "max-memory", "", "most memory to use, as `size` such as 8G; a part that needs more is refused (default: four fifths of what is free)")
	f.StringVar(&a.color, "color", "auto", "`when` to colour standard output: auto, always or never")
	root.SetFlagErrorFunc(wrongFlag)
	root.SetHelpCommand(helpCommand())
	group(root)
	a.addCommands(root)
	root.InitDefaultCompletionCmd("completion") // now, so that it answers unknown shells as other groups do
	if c, _, err := root.Find([]string{"completion"}); err == nil {
		c.Example = "  source <(skinstock completion bash)\n  skinstock completion fish | source"
		group(c)
	}
	return a, root
}
