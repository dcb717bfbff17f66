package main

import (
	_ "embed"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// The peers do a part of the work: read, weld, normals, a plain move along them
// by 0.15 mm, write; and the test for crossings, on the part as it is.
var (
	//go:embed peer/vtk.py
	vtkScript []byte
	//go:embed peer/cgal.cpp
	cgalSource []byte
)

// peers prints the rows of the libraries that are installed.
func (b *bench) peers(label, file string) error {
	if python, ok := withVTK(); !ok {
		b.absent(label, "VTK", "python3-vtk9")
	} else if vtk := filepath.Join(b.work, "vtk.py"); os.WriteFile(vtk, vtkScript, 0o644) != nil {
		return fmt.Errorf("%s could not be written", vtk)
	} else if err := b.row(label, "VTK: read, weld, normals, move, write", python, vtk, file, b.out()); err != nil {
		return err
	}
	cgal := filepath.Join(b.work, "cgal")
	if why, err := b.build(cgal); err != nil {
		return err
	} else if why != "" {
		b.absent(label, "CGAL", why)
	} else {
		if err := b.row(label, "CGAL: read, weld, normals, move, write", cgal, "move", file, b.out()); err != nil {
			return err
		}
		if err := b.row(label, "CGAL: read, weld, self-crossing test", cgal, "cross", file); err != nil {
			return err
		}
	}
	if _, err := exec.LookPath("admesh"); err != nil {
		b.absent(label, "ADMesh", "admesh")
		return nil
	}
	return b.row(label, "ADMesh: read, check, write", "admesh", "--write-binary-stl="+b.out(), file)
}

// withVTK returns the interpreter that finds VTK: the first in the path, or that
// of the system, whose packages another one does not see.
func withVTK() (python string, ok bool) {
	for _, python := range [...]string{"python3", "/usr/bin/python3"} {
		if exec.Command(python, "-c", "import vtkmodules.vtkIOGeometry").Run() == nil {
			return python, true
		}
	}
	return "", false
}

func (b *bench) absent(label, library, pack string) {
	fmt.Printf("%-16s %-46s not installed (Debian: %s)\n", label, library, pack)
}

// build compiles the CGAL peer once and says what is missing when it cannot.
func (b *bench) build(to string) (missing string, err error) {
	if _, err := os.Stat(to); err == nil {
		return "", nil
	}
	if _, err := exec.LookPath("g++"); err != nil {
		return "g++", nil
	}
	probe := exec.Command("g++", "-E", "-x", "c++", "-")
	probe.Stdin = strings.NewReader("#include <CGAL/Surface_mesh.h>\n")
	if probe.Run() != nil {
		return "libcgal-dev", nil
	}
	source := to + ".cpp"
	if err := os.WriteFile(source, cgalSource, 0o644); err != nil {
		return "", err
	}
	if out, err := exec.Command("g++", "-O3", "-std=c++17", "-DNDEBUG", "-o", to, source, "-lgmp", "-lmpfr").CombinedOutput(); err != nil {
		return "", fmt.Errorf("compiling the CGAL peer: %w\n%s", err, out)
	}
	return "", nil
}
