package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"github.com/google/jsonschema-go/jsonschema"
	"github.com/spf13/cobra"

	"skinstock/offset/recipe"
)

func (a *app) recipeCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "recipe",
		Short: "List, show and check recipes: the data of a print and finish process",
		Long: `A recipe is the YAML file of one print and finish process: what roughness the
printer leaves on each skin, how the bath levels it, how fast it removes metal.
Every value carries its source; what nobody measured is called assumed wherever
it is used. Write your own by starting from a built-in one:

  skinstock recipe show ti-6al-4v-30 > mine.yaml
  skinstock recipe check mine.yaml`,
		Example: "  skinstock recipe list",
	}
	group(cmd)
	cmd.AddCommand(
		&cobra.Command{
			Use: "list", Short: "List the built-in recipes", Args: needs(),
			Example: "  skinstock recipe list",
			RunE:    func(*cobra.Command, []string) error { return listRecipes(a.con.Out) },
		},
		&cobra.Command{
			Use: "show NAME", Short: "Print a built-in recipe, or one of your own as read", Args: needs("NAME"),
			Example:           "  skinstock recipe show ti-6al-4v-30 > mine.yaml",
			ValidArgsFunction: completeRecipes,
			RunE: func(_ *cobra.Command, args []string) error {
				r, err := loadRecipe(args[0], "", a.con.In)
				if err != nil {
					return err
				}
				_, err = a.con.Out.Write(r.Bytes)
				return err
			},
		},
		&cobra.Command{
			Use: "check FILE...", Short: "Check recipe files; every fault with its line and remedy", Args: needsSome("FILE"),
			Example: "  skinstock recipe check mine.yaml",
			RunE: func(_ *cobra.Command, args []string) error {
				return a.checkRecipes(args)
			},
		},
		&cobra.Command{
			Use: "keys", Short: "Print every key that a recipe may have, with unit, bounds and default", Args: needs(),
			Example: "  skinstock recipe keys",
			RunE:    func(*cobra.Command, []string) error { return listKeys(a.con.Out) },
		},
		&cobra.Command{
			Use: "schema", Short: "Print the JSON Schema of recipe files, for editors", Args: needs(),
			Example: "  skinstock recipe schema > recipe.schema.json",
			RunE: func(*cobra.Command, []string) error {
				s, err := recipe.Schema()
				if err != nil {
					return err
				}
				return writeSchema(a.con.Out, s)
			},
		},
	)
	return cmd
}

func writeSchema(w io.Writer, s *jsonschema.Schema) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(s)
}

func completeRecipes(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return recipe.List(), cobra.ShellCompDirectiveDefault
}

// listRecipes prints one line a built-in recipe.
func listRecipes(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "name\tprocess\tvalues\tof them assumed")
	for _, name := range recipe.List() {
		r, err := recipe.Load(name)
		if err != nil {
			return err
		}
		mark := ""
		if name == recipe.Default {
			mark = " (default)"
		}
		fmt.Fprintf(t, "%s\t%s%s\t%d\t%d\n", name, r.Title, mark, len(r.Values()), len(r.AssumedValues()))
	}
	return t.Flush()
}

// listKeys prints one line a key.
func listKeys(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "key\tvalue\tdefault\twhat it is")
	for _, k := range recipe.Keys() {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", k.Path, k.Value, k.Need, k.Doc)
	}
	return t.Flush()
}

// checkRecipes checks all files and fails when any does not hold.
func (a *app) checkRecipes(files []string) error {
	bad := 0
	for _, f := range files {
		r, err := loadRecipe(f, "", a.con.In)
		if err != nil {
			bad++
			a.con.Error("%v", err)
			continue
		}
		n := len(r.AssumedValues())
		fmt.Fprintf(a.con.Out, "%s: sound; %d values, %d of them assumed\n", f, len(r.Values()), n)
	}
	if bad > 0 {
		return usage(fmt.Errorf("%d of %d recipes do not hold", bad, len(files)))
	}
	return nil
}

// loadRecipe takes a built-in name, a file, or - for standard input. A file in
// the current folder wins only when it is named with a dot or a slash in it.
// Relative names of files are taken from dir, the current folder when empty.
func loadRecipe(name, dir string, stdin io.Reader) (*recipe.Recipe, error) {
	if name == "-" {
		r, err := recipe.Read("standard input", stdin)
		return r, asUsage(err)
	}
	r, err := recipe.Load(name)
	if !errors.Is(err, recipe.ErrUnknown) {
		return r, asUsage(err)
	}
	path := name
	if !filepath.IsAbs(path) {
		path = filepath.Join(dir, path)
	}
	f, ferr := os.Open(path)
	if errors.Is(ferr, os.ErrNotExist) && strings.ContainsAny(name, `./\`) {
		return nil, hinted(usage(fmt.Errorf("recipe %s: there is no such file", name)), "'skinstock recipe show ti-6al-4v-30 > mine.yaml' starts one of your own")
	}
	if errors.Is(ferr, os.ErrNotExist) {
		return nil, hinted(usage(err), "a file of this name is not there either; 'skinstock recipe list' shows the built-in ones")
	}
	if ferr != nil {
		return nil, usage(fmt.Errorf("recipe %s: %w", name, bare(ferr)))
	}
	defer f.Close()
	r, err = recipe.Read(name, f)
	return r, asUsage(err)
}

func asUsage(err error) error {
	if err == nil {
		return nil
	}
	return usage(err)
}
