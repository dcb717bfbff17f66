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

// plainMove prints VTK's row, which those that follow are compared with.
func (b *bench) plainMove(label, file string) error {
	b.vtk = 0
	python, ok := withVTK()
	if !ok {
		b.absent(label, "VTK", "python3-vtk9")
		return nil
	}
	script := filepath.Join(b.work, "vtk.py")
	if err := os.WriteFile(script, vtkScript, 0o644); err != nil {
		return err
	}
	u, err := b.row(label, "VTK: read, weld, normals, move, write", python, script, file, b.out())
	b.vtk = u.wall
	return err
}

// peers prints the rows of the other libraries that are installed.
func (b *bench) peers(label, file string) error {
	cgal := filepath.Join(b.work, "cgal")
	if why, err := b.build(cgal); err != nil {
		return err
	} else if why != "" {
		b.absent(label, "CGAL", why)
	} else {
		if _, err := b.row(label, "CGAL: read, weld, normals, move, write", cgal, "move", file, b.out()); err != nil {
			return err
		}
		if _, err := b.row(label, "CGAL: read, weld, self-crossing test", cgal, "cross", file); err != nil {
			return err
		}
	}
	if _, err := exec.LookPath("admesh"); err != nil {
		b.absent(label, "ADMesh", "admesh")
		return nil
	}
	_, err := b.row(label, "ADMesh: read, check, write", "admesh", "--write-binary-stl="+b.out(), file)
	return err
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
