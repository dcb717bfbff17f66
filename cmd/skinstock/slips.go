package main

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// needsSome accepts one argument or more of the kind named.
func needsSome(name string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return nil
		}
		return hinted(usage(fmt.Errorf("%s takes %s, one or more; none given", cmd.CommandPath(), name)), helpHint(cmd))
	}
}

// needs accepts exactly the arguments named, as they stand in the usage line.
func needs(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == len(names) {
			return nil
		}
		want := "no argument"
		if len(names) > 0 {
			want = strings.Join(names, " and ")
		}
		err := fmt.Errorf("%s takes %s; %d given", cmd.CommandPath(), want, len(args))
		if len(args) == 0 {
			err = fmt.Errorf("%s takes %s; none given", cmd.CommandPath(), want)
		}
		return hinted(usage(err), helpHint(cmd))
	}
}

func helpHint(cmd *cobra.Command) string { return "see '" + cmd.CommandPath() + " --help'" }

// unknownCommand answers a word that is no command, with what may have been meant.
func unknownCommand(parent *cobra.Command, word string) error {
	err := fmt.Errorf("%q is no command of %s", word, parent.CommandPath())
	if near := nearCommands(parent, word); len(near) > 0 {
		err = fmt.Errorf("%w; did you mean %s?", err, strings.Join(near, " or "))
	}
	return hinted(usage(err), helpHint(parent))
}

// nearCommands lists the commands that a word may have meant.
func nearCommands(parent *cobra.Command, word string) []string {
	if parent.SuggestionsMinimumDistance <= 0 {
		parent.SuggestionsMinimumDistance = 2
	}
	return parent.SuggestionsFor(word)
}

// group makes a command that only holds others answer unknown words, and show
// its help when there is none.
func group(cmd *cobra.Command) {
	cmd.Args = cobra.ArbitraryArgs
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return cmd.Help()
		}
		return unknownCommand(cmd, args[0])
	}
}

// helpCommand shows the help of a command, and answers unknown words.
func helpCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Show the help of a command",
		Example: "  skinstock help compensate",
		RunE: func(cmd *cobra.Command, args []string) error {
			at := cmd.Root()
			for _, word := range args {
				next, rest, err := at.Find([]string{word})
				if err != nil || next == at || len(rest) > 0 {
					return unknownCommand(at, word)
				}
				at = next
			}
			at.InitDefaultHelpFlag()
			return at.Help()
		},
		ValidArgsFunction: func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			at, _, err := cmd.Root().Find(args)
			if err != nil {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			var names []string
			for _, c := range at.Commands() {
				if c.IsAvailableCommand() {
					names = append(names, c.Name()+"\t"+c.Short)
				}
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
	}
}

// wrongFlag answers a flag that is not there, or whose value cannot be read.
func wrongFlag(cmd *cobra.Command, err error) error {
	var value *pflag.InvalidValueError
	if !errors.As(err, &value) {
		return unknownFlag(cmd, err)
	}
	want := map[string]string{"int": "whole number", "float64": "number", "bool": "word: true or false"}[value.GetFlag().Value.Type()]
	if want == "" {
		return hinted(usage(err), helpHint(cmd))
	}
	return hinted(badFlag(value.GetFlag().Name, fmt.Errorf("%q: give a %s", value.GetValue(), want)), helpHint(cmd))
}

// unknownFlag answers a flag that is not there with the one that may have been meant.
func unknownFlag(cmd *cobra.Command, err error) error {
	var missing *pflag.NotExistError
	if errors.As(err, &missing) && missing.GetSpecifiedShortnames() == "" {
		// Commands have a search for near names; flags have none.
		names := &cobra.Command{SuggestionsMinimumDistance: 2}
		wrong := missing.GetSpecifiedName()
		full := map[string]string{}                // flags by their names, and without the unit or kind at their end
		cmd.Flags().VisitAll(func(f *pflag.Flag) { // the inherited ones as well, once parsed
			if f.Hidden {
				return
			}
			short := f.Name
			if i := strings.LastIndexByte(f.Name, '-'); i > 4 {
				short = f.Name[:i]
			}
			if len(f.Name) > 4 && strings.HasPrefix(wrong, f.Name) { // a word spelt out
				short = wrong
			}
			for _, n := range []string{f.Name, short} {
				if _, known := full[n]; !known {
					full[n] = f.Name
					names.AddCommand(&cobra.Command{Use: n, Run: func(*cobra.Command, []string) {}})
				}
			}
		})
		near := names.SuggestionsFor(wrong)
		for i, n := range near {
			near[i] = full[n]
		}
		slices.Sort(near)
		if near = slices.Compact(near); len(near) > 0 {
			err = fmt.Errorf("%w; did you mean --%s?", err, strings.Join(near, " or --"))
		}
	}
	return hinted(usage(err), helpHint(cmd))
}

// plainPath says what is wrong with a file in the form of all other messages:
// its name first, then why.
func plainPath(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return fmt.Errorf("%s: %w", pe.Path, pe.Err)
	}
	return err
}
