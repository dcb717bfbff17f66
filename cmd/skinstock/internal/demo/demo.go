// Package demo holds the files of a first hour: a part, a recipe to change,
// coupons, a job file, and the commands to try on them.
package demo

import (
	_ "embed"
	"io"

	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
	"skinstock/offset/recipe"
)

// CellMM is the edge of the grid that the demo part is made on, mm.
const CellMM = 1.29

//go:embed coupons.csv
var coupons []byte

//go:embed jobs.yaml
var jobs []byte

//go:embed commands.txt
var commands []byte

// File is one file of the demo.
type File struct {
	Name string
	Note string // what it is, in a line
	Fill func(io.Writer) error
}

// Files lists the demo in the order in which a newcomer meets it.
func Files() []File {
	return []File{
		{"commands.txt", "the commands to try, in order", bytes(commands)},
		{"lander-bracket.stl", "a topology-optimised bracket with three bores, mm", func(w io.Writer) error {
			return stl.WriteBinary(w, solid.LanderBracket(CellMM), "lander-bracket unit=mm")
		}},
		{"recipe.yaml", "the built-in recipe " + recipe.Default + " to change; all its values are assumed", func(w io.Writer) error {
			r, err := recipe.Load(recipe.Default)
			if err != nil {
				return err
			}
			_, err = w.Write(r.Bytes)
			return err
		}},
		{"coupons.csv", "made-up coupon measurements", bytes(coupons)},
		{"jobs.yaml", "a batch of two jobs on the part", bytes(jobs)},
	}
}

func bytes(b []byte) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := w.Write(b)
		return err
	}
}
