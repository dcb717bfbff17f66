package main

import (
	"context"
	"errors"
	"io"
	"sync"

	"skinstock/cmd/skinstock/internal/batch"
	"skinstock/cmd/skinstock/internal/memory"
	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/report"
	"skinstock/report/sheet"
)

// preparer makes orders of the parts of a batch. A recipe is read once,
// however many parts use it.
type preparer struct {
	app     *app
	dir     string
	recipes map[string]func() (*recipe.Recipe, error)
}

func newPreparer(a *app, dir string) *preparer {
	return &preparer{app: a, dir: dir, recipes: map[string]func() (*recipe.Recipe, error){}}
}

func (p *preparer) recipe(name string) (*recipe.Recipe, error) {
	if p.recipes[name] == nil {
		p.recipes[name] = sync.OnceValues(func() (*recipe.Recipe, error) {
			if name == "-" {
				return nil, usage(errors.New("a batch takes no recipe from standard input: name a file"))
			}
			return loadRecipe(name, p.dir, p.app.con.In)
		})
	}
	return p.recipes[name]()
}

// prepare makes the order of a part from its settings.
func (p *preparer) prepare(part batch.Part) (batch.Order, error) {
	s := part.Settings
	f := compensateFlags{
		partFlags: partFlags{
			recipe: or(s.Recipe, recipe.Default), buildDir: or(string(s.BuildDir), "0,0,1"), units: s.Units,
			allowance: string(s.AllowanceUM), json: *s.JSON, failOn: or(s.FailOn, "error"), field: or(s.Field, "none"),
			keep: s.Keep, dir: p.dir, chordUM: offset.DefaultChordUM, remesh: s.Remesh != nil && *s.Remesh,
		},
		out: s.Output, report: s.Report, verify: or(s.Verify, verifyFull), finished: s.Finished,
		ascii: s.ASCII != nil && *s.ASCII,
	}
	if s.WeldTolMM != nil {
		f.weldTolMM = *s.WeldTolMM
	}
	if s.ChordUM != nil {
		f.chordUM = *s.ChordUM
	}
	if err := f.settle(part.Name); err != nil {
		return nil, settingError(err)
	}
	rec, err := p.recipe(f.recipe)
	if err != nil {
		return nil, err // of this part alone
	}
	o, err := p.app.orderWith(part.Name, &f.partFlags, rec)
	if err != nil {
		return nil, settingError(err)
	}
	o.name, o.path = part.Name, part.Path
	if o.path == "-" { // a file of that name
		o.path = "./-"
	}
	o.take(&f)
	return &batchOrder{order: o, app: p.app, part: part, failOn: f.failOn, bodies: f.bodies}, nil
}

func or(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

// settingError names the key of the job file that an error is about. Trouble
// with a file that a setting names is the part's own.
func settingError(err error) error {
	if codeOf(err) != exitUsage {
		return err
	}
	var fe *flagError
	if errors.As(err, &fe) {
		return &batch.SettingError{Key: settingKey(fe.flag), Err: fe.err}
	}
	return &batch.SettingError{Key: "part", Err: err}
}

// batchOrder is an order of a batch.
type batchOrder struct {
	*order
	app    *app
	part   batch.Part
	failOn string
	bodies []string
}

func (b *batchOrder) RecipeSHA256() string { return b.job.Recipe.SHA256 }

func (b *batchOrder) More() []string { return b.bodies }

func (b *batchOrder) Need(facets int64) memory.Need { return memory.Of(facets, b.wish()) }

// Do does the part and writes its files: those that compensate writes, and the
// picture for the index.
func (b *batchOrder) Do(ctx context.Context, to *batch.Outlet, workers int) (*report.Document, error) {
	b.job.Workers = workers
	res, doc, err := b.app.fulfil(ctx, b.order, batchOutlet{to}, func(string, float64) {})
	if err != nil {
		return nil, err
	}
	if path := batch.Thumbnail(b.part); path != "" {
		if err := writeThumbnail(ctx, res, path, to, workers); err != nil {
			return nil, err
		}
	}
	if path := *b.part.JSON; path != "" {
		if err := to.Write(ctx, path, doc.WriteJSON); err != nil {
			return nil, outputError(err)
		}
	}
	return doc, failOn(b.failOn, doc.Findings)
}

// batchOutlet takes the files of an order for a batch.
type batchOutlet struct{ to *batch.Outlet }

func (b batchOutlet) folder(path string) error { return b.to.Folder(path) }

func (b batchOutlet) write(ctx context.Context, path string, fill func(io.Writer) error) error {
	return b.to.Write(ctx, path, fill)
}

// Size of the pictures in the index, pixels.
const thumbnailWidth, thumbnailHeight = 240, 180

func writeThumbnail(ctx context.Context, res *offset.Result, path string, to *batch.Outlet, workers int) error {
	frame, err := sheet.SkinsPicture(ctx, report.SkinsInput(res), sheet.Above, thumbnailWidth, thumbnailHeight, workers)
	if err != nil {
		return badOutput(err)
	}
	return outputError(to.Write(ctx, path, func(w io.Writer) error { return sheet.WritePNG(w, frame.Image) }))
}
