package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"sync"

	"skinstock/cmd/skinstock/internal/memory"
	"skinstock/cmd/skinstock/internal/wholefile"
	"skinstock/mesh"
	"skinstock/mesh/part"
	"skinstock/mesh/stl"
	"skinstock/offset"
	"skinstock/report"
	"skinstock/report/sheet"
)

// order is what is asked for one part: how it is read, what is done to it, and
// which files are made of it. Every command that grows and writes a part makes
// one, so that a part comes out the same whoever asked.
type order struct {
	name string // of the part in messages and reports
	path string // file, or - for standard input
	read part.Options
	job  offset.Job

	// Files to write, as the outlet understands them; empty for none, - for standard output.
	out      string
	finished string
	report   string // folder
	ascii    bool

	cuts []sheet.Cut // sections of the report; nil for the places that the part suggests
}

// take takes over from the flags what is to be written.
func (o *order) take(p *compensateFlags) {
	o.out, o.finished, o.report, o.ascii = p.out, p.finished, p.report, p.ascii
	o.job.NoVerify, o.job.Unchecked = p.verify != verifyFull, p.verify == verifyOff
}

// wish tells what makes the part take more memory than growing it does.
func (o *order) wish() memory.Wish {
	return memory.Wish{Pictures: o.report != "", Field: o.job.Field != offset.FieldNone, Quick: o.job.Unchecked}
}

// outlet is where the files of an order go.
type outlet interface {
	// folder makes a folder and those above it.
	folder(path string) error
	// write writes a file that appears whole or not at all.
	write(ctx context.Context, path string, fill func(io.Writer) error) error
}

// fulfil reads the part, does the job on it and writes the files that were asked for.
func (a *app) fulfil(ctx context.Context, o *order, to outlet, show func(stage string, share float64)) (*offset.Result, *report.Document, error) {
	o.job.KeepTree = o.report != "" && o.cuts == nil // for spots
	o.job.Lean = o.report == ""
	res, err := a.growPart(ctx, o, show)
	if err != nil {
		return nil, nil, err
	}
	if o.report != "" { // other outputs may lie in it
		if err := to.folder(o.report); err != nil {
			return nil, nil, badOutput(err)
		}
	}
	// Side by side, since the disk is slow to take the part and pictures are slow to draw.
	var doc *report.Document
	var drawn *drawnReport
	var sum string
	drawing, stop := context.WithCancel(ctx)
	defer stop()
	var failed error // of the part's files
	err = mesh.Beside(
		ctx, o.job.Workers,
		func() error {
			if sum, failed = writeParts(ctx, res, o, to); failed != nil {
				stop()
			}
			return failed
		},
		func() (err error) {
			doc = report.ComposeResult("compensate", version(), res, report.Written{File: o.out})
			if o.report != "" {
				show("pictures", 0.9)
				drawn, err = drawReport(drawing, res, doc, o)
			}
			return err
		},
	)
	if err = cmp.Or(failed, err); err != nil {
		return nil, nil, err
	}
	doc.Output.SHA256 = sum
	if drawn != nil {
		if err := drawn.write(ctx, doc, o, to); err != nil {
			return nil, nil, err
		}
	}
	return res, doc, nil
}

// writeParts writes the grown part and, where it is asked for, the finished one;
// it returns the digest of the grown part's file.
func writeParts(ctx context.Context, res *offset.Result, o *order, to outlet) (sum string, err error) {
	h := sha256.New()
	err = to.write(ctx, o.out, func(w io.Writer) error { return writePart(&digested{w, h}, res, o.out, o.ascii) })
	if err != nil {
		return "", outputError(err)
	}
	if o.finished != "" {
		if res.Closed == nil {
			return "", badOutput(errors.New("no one finish is predicted, since the recipe treats every skin for its own time: leave the finished surface out"))
		}
		err = to.write(ctx, o.finished, func(w io.Writer) error {
			return stl.WriteBinary(w, res.Closed.Finished, "predicted finish unit=mm")
		})
	}
	return hex.EncodeToString(h.Sum(nil)), outputError(err)
}

// digested hands on what is written and digests it, large pieces meanwhile.
type digested struct {
	w io.Writer
	h hash.Hash
}

func (d *digested) Write(p []byte) (n int, err error) {
	if len(p) < 64<<10 {
		d.h.Write(p)
		return d.w.Write(p)
	}
	var digesting sync.WaitGroup
	digesting.Go(func() { d.h.Write(p) })
	n, err = d.w.Write(p)
	digesting.Wait()
	return n, err
}

// files is the outlet of a command line: paths as given, - for standard output.
type files struct {
	out    io.Writer
	force  bool
	inputs []string // never replaced
}

func (f files) options() wholefile.Options {
	return wholefile.Options{Replace: f.force, Inputs: f.inputs}
}

func (f files) folder(path string) error { return os.MkdirAll(path, 0o777) }

func (f files) write(ctx context.Context, path string, fill func(io.Writer) error) error {
	if path != "-" {
		return wholefile.Write(ctx, path, f.options(), fill)
	}
	if err := fill(f.out); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	return nil
}
