// Command partgen writes the demo part and the benchmark parts as binary STL.
//
//	go run ./cmd/partgen lander-bracket 1.29 testdata/parts/lander-bracket.stl
package main

import (
	"bufio"
	"fmt"
	"os"
	"strconv"

	"skinstock/mesh"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
)

var parts = []struct {
	name string
	make func(cellMM float64) *mesh.Mesh
}{
	{"lander-bracket", solid.LanderBracket},
	{"smooth-bracket", solid.SmoothBracket},
	{"gyroid-cube", solid.GyroidCube},
	{"lattice-cube", solid.LatticeCube},
}

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "partgen:", err)
		os.Exit(2)
	}
}

func run(args []string) error {
	if len(args) != 3 {
		return fmt.Errorf("usage: partgen lander-bracket|smooth-bracket|gyroid-cube|lattice-cube CELL_MM OUT.stl")
	}
	cell, err := strconv.ParseFloat(args[1], 64)
	if err != nil || !(cell > 0.01 && cell < 10) {
		return fmt.Errorf("cell %q: give a number of mm between 0.01 and 10", args[1])
	}
	for _, p := range parts {
		if p.name == args[0] {
			return write(args[2], p.name, p.make(cell))
		}
	}
	return fmt.Errorf("no part is called %q", args[0])
}

func write(path, name string, m *mesh.Mesh) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<18)
	if err := stl.WriteBinary(w, m, name+" unit=mm"); err != nil {
		f.Close()
		return err
	}
	if err := w.Flush(); err != nil {
		f.Close()
		return err
	}
	fmt.Printf("%s: %d facets, %.1f mm3\n", path, len(m.Facets), m.Volume())
	return f.Close()
}
