package main

import "github.com/spf13/cobra"

// addCommands hangs the subcommands under the root.
func (a *app) addCommands(root *cobra.Command) {
	root.AddCommand(a.compensateCommand(), a.planCommand(), a.screenCommand(), a.verifyCommand(), a.orientCommand(), a.previewCommand(), a.calibrateCommand(), a.batchCommand(), a.recipeCommand(), a.demoCommand(), a.manCommand())
}
