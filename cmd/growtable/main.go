//go:build unix

// Command growtable grows voxel-born parts by even allowances, once by the
// plain move of every vertex along its area-weighted mean normal and once as
// skinstock does it, and prints crossings, shortfall, facets and processor time as a
// Markdown table. It fails when a part of skinstock's has crossings or is short by more than 1 um.
//
//	go run ./cmd/growtable -parts bracket,gyroid,lattice -sizes 100k -um 50,200,400
package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/mesh/bvh"
	"skinstock/mesh/part"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/offset/verify"
	"skinstock/region"
)

// parts and the cells in mm at which they have about that many facets.
var parts = []struct {
	name  string
	make  func(cellMM float64) *mesh.Mesh
	cells map[string]float64
}{
	{"bracket", solid.SmoothBracket, map[string]float64{"100k": 0.77, "1M": 0.243}},
	{"gyroid", solid.GyroidCube, map[string]float64{"100k": 0.78, "1M": 0.255}},
	{"lattice", solid.LatticeCube, map[string]float64{"100k": 0.63, "1M": 0.196}},
}

func main() {
	names := flag.String("parts", "bracket,gyroid,lattice", "which parts")
	sizes := flag.String("sizes", "100k", "of 100k and 1M facets")
	ums := flag.String("um", "50,200,400", "allowances in um")
	flag.Parse()
	if err := run(strings.Split(*names, ","), strings.Split(*sizes, ","), strings.Split(*ums, ",")); err != nil {
		fmt.Fprintln(os.Stderr, "growtable:", err)
		os.Exit(1)
	}
}

func run(names, sizes, ums []string) error {
	fmt.Println("| part | facets | stock, um | plain: pairs that cross | short, um | s | skinstock: pairs that cross | short, um | left out for gaps, um | facets added | s |")
	fmt.Println("| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
	broken := 0
	for _, size := range sizes {
		for _, p := range parts {
			cell, ok := p.cells[size]
			if !slices.Contains(names, p.name) || !ok {
				continue
			}
			m := p.make(cell)
			for _, um := range ums {
				um, err := strconv.ParseFloat(um, 64)
				if err != nil {
					return err
				}
				kept, err := row(p.name, m, um)
				if err != nil {
					return fmt.Errorf("%s %s: %w", p.name, size, err)
				}
				if !kept {
					broken++
				}
			}
		}
	}
	if broken > 0 {
		return fmt.Errorf("%d rows show facets that cross or more than %g um short", broken, 1000*promised)
	}
	return nil
}

// promised is the shortfall in mm that no place may have.
const promised = 0.001

// row prints what becomes of a part that grows by um, and tells whether it is free of
// crossings and short by no more than promised.
func row(name string, m *mesh.Mesh, um float64) (kept bool, err error) {
	ctx := context.Background()
	p, err := asFile(m)
	if err != nil {
		return false, err
	}
	start := used()
	moved := plain(p.Mesh, um/1000)
	c, short, err := judge(ctx, p.Mesh, moved, um/1000)
	if err != nil {
		return false, err
	}
	plainS := used() - start
	r, err := recipe.Load(recipe.Default)
	if err != nil {
		return false, err
	}
	job := offset.Job{Recipe: r, BuildDir: r3.Vector{Z: 1}, FixedUM: map[region.Skin]float64{region.Upskin: um, region.Vertical: um, region.Downskin: um}}
	start = used()
	res, err := offset.Compensate(ctx, p, job)
	var crossing *offset.CrossingError
	if errors.As(err, &crossing) {
		fmt.Printf("| %s | %d | %g | %d | %.1f | %.1f | no output | | | | %.1f |\n", name, len(m.Facets), um, c, short*1000, plainS.Seconds(), (used() - start).Seconds())
		return false, nil
	}
	if err != nil {
		return false, err
	}
	took := used() - start
	x, err := bvh.New(res.Grown, 0).SelfCrossings(ctx, bvh.CrossingOptions{})
	if err != nil {
		return false, err
	}
	least := um / 1000
	for _, a := range res.Allowance {
		least = min(least, a[0], a[1], a[2])
	}
	lacks := max(res.Proof.All.Shortfall.Max.Value, res.Proof.GrownShortfall.Value)
	fmt.Printf("| %s | %d | %g | %d | %.1f | %.1f | %d | %.1f | %.0f | %d | %.1f |\n", name, len(m.Facets), um, c, short*1000, plainS.Seconds(),
		x.Total, 1000*lacks, um-1000*least, len(res.Grown.Facets)-len(res.Nominal.Facets), took.Seconds())
	return x.Total == 0 && lacks <= promised, nil
}

// asFile returns the part as it comes out of a binary STL file.
func asFile(m *mesh.Mesh) (*part.Part, error) {
	var b bytes.Buffer
	if err := stl.WriteBinary(&b, m, "part"); err != nil {
		return nil, err
	}
	return part.Read("part.stl", &b, int64(b.Len()), part.Options{})
}

// plain moves every vertex by d mm along its area-weighted mean normal.
func plain(m *mesh.Mesh, d float64) *mesh.Mesh {
	n := make([]r3.Vector, len(m.Vertices))
	for f, t := range m.Facets {
		for _, v := range t {
			n[v] = n[v].Add(m.AreaNormal(f))
		}
	}
	for i, v := range m.Vertices {
		n[i] = v.Add(n[i].Normalize().Mul(d))
	}
	out := m.WithVertices(n)
	out.RoundToFloat32()
	return out
}

// judge counts the crossings of a grown surface and measures what it lacks of d mm of stock.
func judge(ctx context.Context, nominal, grown *mesh.Mesh, d float64) (crossings int, short float64, err error) {
	c, err := bvh.New(grown, 0).SelfCrossings(ctx, bvh.CrossingOptions{})
	if err != nil {
		return 0, 0, err
	}
	wanted := make(mesh.CornerField, len(nominal.Facets))
	for f := range wanted {
		wanted[f] = [3]float64{d, d, d}
	}
	proof, err := verify.Verify(ctx, nominal, grown, wanted, verify.Options{})
	if err != nil {
		return 0, 0, err
	}
	return c.Total, max(proof.All.Shortfall.Max.Value, proof.GrownShortfall.Value), nil
}

// used is the processor time that the program took.
func used() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
