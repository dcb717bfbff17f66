// Command speed makes benchmark parts, runs the whole command on them as a user
// would, and prints wall time and peak memory beside what general-purpose
// libraries need for the same work, where they are installed.
//
//	go run ./cmd/speed -runs 5 -sizes 100k,1M,5M
//	go run ./cmd/speed -runs 1 -sizes none -batch 500
//
// A figure is the median of the runs; the others' load on the machine is in it. The
// last column is the wall time as a multiple of what VTK's plain move of the same
// part took just before, which tells more than seconds do on another machine.
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"time"
)

// sizes are the cells, in mm, at which the parts have about that many facets.
var sizes = []struct{ name, bracket, gyroid string }{
	{"100k", "0.77", "0.80"},
	{"500k", "0.342", "0.36"},
	{"1M", "0.243", "0.255"},
	{"5M", "0.109", "0.114"},
}

func main() {
	runs := flag.Int("runs", 5, "runs of each command; the median is printed")
	want := flag.String("sizes", "100k,1M,5M", "sizes of the parts, of 100k, 500k, 1M and 5M, or none")
	lattice := flag.Float64("lattice", 0, "also a lattice of this cell in mm: 0.0446 gives about 20 million facets")
	dir := flag.String("dir", "", "folder for the parts, kept there (default: a temporary one)")
	batch := flag.Int("batch", 0, "also batches of so many small parts, with one and with two workers, and their memory over the run")
	only := flag.String("only", "", "measure only the work whose name matches this regular expression")
	flag.Parse()
	pick, err := regexp.Compile(*only)
	if err == nil {
		err = run(*runs, strings.Split(*want, ","), *lattice, *batch, pick, *dir)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "speed:", err)
		os.Exit(1)
	}
}

func run(runs int, want []string, lattice float64, batch int, pick *regexp.Regexp, dir string) error {
	if runs < 1 {
		return errors.New("runs: give 1 or more")
	}
	work, err := os.MkdirTemp("", "skinstock-speed-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	if dir == "" {
		dir = work
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	b := &bench{runs: runs, pick: pick, parts: dir, work: work, tool: filepath.Join(work, "skinstock"), partgen: filepath.Join(work, "partgen")}
	for _, c := range []string{b.tool, b.partgen} {
		if out, err := exec.Command("go", "build", "-o", c, "./cmd/"+filepath.Base(c)).CombinedOutput(); err != nil {
			return fmt.Errorf("building %s: %w\n%s", filepath.Base(c), err, out)
		}
	}
	fmt.Printf("%d processors, %s, median of %d runs\n\n", runtime.NumCPU(), runtime.Version(), runs)
	fmt.Printf("%-16s %-46s %9s %9s %9s %9s\n", "part", "work", "wall s", "cpu s", "peak MB", "wall/VTK")
	for _, s := range sizes {
		if !slices.Contains(want, s.name) {
			continue
		}
		for _, p := range [2][2]string{{"smooth-bracket", s.bracket}, {"gyroid-cube", s.gyroid}} {
			if err := b.part(p[0], p[1], s.name); err != nil {
				return err
			}
		}
	}
	b.vtk = 0 // of another part
	if lattice > 0 {
		file, err := b.make("lattice-cube", fmt.Sprint(lattice), "lattice")
		if err != nil {
			return err
		}
		if _, err := b.row("lattice", "compensate, nothing checked", b.tool, "compensate", file, "-o", b.out(), "--force", "--verify", "off", "--fail-on", "never", "-q"); err != nil {
			return err
		}
	}
	if batch > 0 {
		return b.batches(batch)
	}
	return nil
}

// bench is where things are.
type bench struct {
	runs        int
	pick        *regexp.Regexp // work to measure
	parts, work string         // folders
	tool        string
	partgen     string
	vtk         time.Duration // wall time of VTK's move of the present part; 0 where it was not measured
}

func (b *bench) out() string { return filepath.Join(b.work, "out.stl") }

// make writes a part, unless it is there from another run, and returns its file.
func (b *bench) make(name, cell, size string) (string, error) {
	file := filepath.Join(b.parts, name+"-"+size+".stl")
	if _, err := os.Stat(file); err == nil {
		return file, nil
	}
	if out, err := exec.Command(b.partgen, name, cell, file).CombinedOutput(); err != nil {
		return "", fmt.Errorf("making %s: %w\n%s", file, err, out)
	}
	return file, nil
}

// part prints the rows of one part.
func (b *bench) part(name, cell, size string) error {
	file, err := b.make(name, cell, size)
	if err != nil {
		return err
	}
	facets, err := facetCount(file)
	if err != nil {
		return err
	}
	label := fmt.Sprintf("%s %.3g M", strings.Split(name, "-")[0], float64(facets)/1e6)
	ascii := filepath.Join(b.work, "ascii.stl")
	if _, err := measure(b.tool, "compensate", file, "-o", ascii, "--ascii", "--verify", "off", "--fail-on", "never", "--force", "-q"); err != nil {
		return err
	}
	if err := b.plainMove(label, file); err != nil {
		return err
	}
	job := func(in string, more ...string) []string {
		return append([]string{"compensate", in, "-o", b.out(), "--force", "--fail-on", "never", "-q"}, more...)
	}
	for _, r := range []struct {
		work string
		args []string
	}{
		{"compensate, nothing checked", job(file, "--verify", "off")},
		{"compensate, ASCII in, nothing checked", job(ascii, "--verify", "off")},
		{"compensate without the proof", job(file, "--verify", "crossings")},
		{"compensate", job(file)},
		{"compensate with report and preview sheet", job(file, "--report", filepath.Join(b.work, "report"))},
		{"screen", []string{"screen", file, "--fail-on", "never", "-q"}},
	} {
		if _, err := b.row(label, r.work, b.tool, r.args...); err != nil {
			return err
		}
	}
	return b.peers(label, file)
}

// row runs a command, prints its medians and returns them; none if the work is
// not to be measured.
func (b *bench) row(label, work, name string, args ...string) (m usage, err error) {
	if !b.pick.MatchString(work) {
		return m, nil
	}
	var all []usage
	for range b.runs {
		u, err := measure(name, args...)
		if err != nil {
			return m, err
		}
		all = append(all, u)
	}
	m = median(all)
	fmt.Printf("%-16s %-46s %9.2f %9.2f %9.0f", label, work, m.wall.Seconds(), m.cpu.Seconds(), m.peakMB)
	if b.vtk > 0 {
		fmt.Printf(" %9.2f", m.wall.Seconds()/b.vtk.Seconds())
	}
	fmt.Println()
	return m, nil
}
