package batch

import (
	"embed"
	"fmt"
	"strings"
)

//go:embed template
var templates embed.FS

// templateFiles are the scripts for schedulers, by name.
var templateFiles = []struct{ name, file string }{{"slurm", "slurm.sbatch"}, {"kubernetes", "kubernetes.yaml"}}

// Templates returns the names of the scripts for schedulers.
func Templates() []string {
	var names []string
	for _, t := range templateFiles {
		names = append(names, t.name)
	}
	return names
}

// Template returns the script for a scheduler.
func Template(name string) ([]byte, error) {
	for _, t := range templateFiles {
		if t.name == name {
			return templates.ReadFile("template/" + t.file)
		}
	}
	return nil, fmt.Errorf("no script for %q: there are %s", name, strings.Join(Templates(), " and "))
}
