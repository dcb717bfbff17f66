package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"syscall"

	"skinstock/cmd/skinstock/internal/wholefile"
	"skinstock/mesh"
	"skinstock/offset"
	"skinstock/region/screen"
	"skinstock/report"
	"skinstock/report/html"
	"skinstock/report/sheet"
)

// reportFiles are the files of a report folder.
var reportFiles = [...]string{"sheet.png", "sheet-proof.png", "sheet-field.png", "report.html", "report.json"}

const sectionUsage = "`plane` of a section such as x=12.5, mm; may be repeated (default: thickest allowance, thinnest wall, worst finding)"

// parseCuts reads the sections asked for; nil for none.
func parseCuts(planes []string) ([]sheet.Cut, error) {
	var cuts []sheet.Cut
	for _, s := range planes {
		c, err := sheet.ParseCut(s)
		if err != nil {
			return nil, fmt.Errorf("--section: %w", err)
		}
		cuts = append(cuts, c)
	}
	return cuts, nil
}

// spots finds places worth a section beyond those that findings name. Where
// the sections are given none are looked for.
func spots(ctx context.Context, pl *offset.Planned, given []sheet.Cut, workers int) ([]sheet.Spot, error) {
	if given != nil {
		return nil, nil
	}
	mm, at, err := screen.ThinnestWall(ctx, pl.Nominal, pl.Topo, screen.Options{Workers: workers, Tree: pl.TakeTree(workers)})
	if err != nil {
		return nil, jobError(pl.Part.Name, err)
	}
	if math.IsInf(mm, 0) {
		return nil, nil
	}
	return []sheet.Spot{{Title: fmt.Sprintf("thinnest wall, %.3g mm", mm), At: at}}, nil
}

// drawnReport is a report but for what is known only when the part is written.
type drawnReport struct {
	page   *html.Page
	sheets []picture
}

// drawReport draws the report page's pictures and the preview sheets.
func drawReport(ctx context.Context, res *offset.Result, doc *report.Document, o *order) (*drawnReport, error) {
	var places []sheet.Spot
	var stage *sheet.Stage
	var d drawnReport
	// Side by side, since each has stretches that one core does alone.
	beside := func(tasks ...func() error) error { return mesh.Beside(ctx, o.job.Workers, tasks...) }
	err := beside(
		func() (err error) {
			stage, err = sheet.NewStage(ctx, report.SheetInput(res, doc), o.job.Workers)
			return badOutput(err)
		},
		func() (err error) { places, err = spots(ctx, res.Planned, o.cuts, o.job.Workers); return err },
		func() (err error) { d.page, err = report.ComposePage(res, doc); return badOutput(err) },
	)
	if err != nil {
		return nil, err
	}
	err = beside(
		func() error { return pictureError(d.page.AddPictures(ctx, stage, o.cuts, places...)) },
		func() (err error) { d.sheets, err = drawSheets(ctx, stage); return err },
	)
	return &d, err
}

// write writes the report page, the preview sheets and a copy of the JSON into
// the report folder.
func (d *drawnReport) write(ctx context.Context, doc *report.Document, o *order, to outlet) error {
	d.page.Files = report.PageFiles(doc)
	write := func(file string, fill func(io.Writer) error) error {
		return outputError(to.write(ctx, filepath.Join(o.report, file), fill))
	}
	for _, p := range d.sheets {
		if err := write(p.file, func(w io.Writer) error { _, err := w.Write(p.png); return err }); err != nil {
			return err
		}
	}
	if err := write("report.html", d.page.Write); err != nil {
		return err
	}
	return write("report.json", doc.WriteJSON)
}

// picture is a file of a report folder.
type picture struct {
	file string
	png  []byte
}

func drawSheets(ctx context.Context, stage *sheet.Stage) ([]picture, error) {
	var out []picture
	var opts []sheet.Options
	for i, layers := range [...][]sheet.Layer{{sheet.Skins, sheet.Allowance}, {sheet.Deviation, sheet.FinishedRa}, {sheet.Exposure, sheet.Finish}} {
		if !stage.Has(layers[0]) {
			continue
		}
		layers = slices.DeleteFunc(layers, func(l sheet.Layer) bool { return !stage.Has(l) })
		opts, out = append(opts, sheet.Options{Layers: layers}), append(out, picture{file: reportFiles[i]})
	}
	imgs, err := stage.Sheets(ctx, opts...)
	if err != nil {
		return nil, badOutput(err)
	}
	for i, img := range imgs {
		var b bytes.Buffer
		if err := sheet.WritePNG(&b, img); err != nil {
			return nil, badOutput(err)
		}
		out[i].png = b.Bytes()
	}
	return out, nil
}

// checkFolder tells before any work whether files can be written into a folder
// that may have to be made first.
func checkFolder(dir string, files []string, force bool, inputs ...string) error {
	for at := filepath.Clean(dir); ; at = filepath.Dir(at) {
		st, err := os.Stat(at)
		if (errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ENOTDIR)) && at != filepath.Dir(at) {
			continue
		}
		if err != nil {
			return badOutput(err)
		}
		if !st.IsDir() {
			return badOutput(fmt.Errorf("%s: cannot make this folder: %s is a file", dir, at))
		}
		if at != filepath.Clean(dir) {
			return nil
		}
		break
	}
	for _, f := range files {
		err := wholefile.Check(filepath.Join(dir, f), wholefile.Options{Replace: force, Inputs: inputs})
		if errors.Is(err, wholefile.ErrExists) {
			return hinted(badOutput(err), "name another folder, or replace its files with --force")
		}
		if err != nil {
			return outputError(err)
		}
	}
	return nil
}

// checkDistinct refuses one name for two outputs; the keys are the flags.
func checkDistinct(outputs map[string]string) error {
	type named struct{ flag, path string }
	var list []named
	for flag, path := range outputs {
		if path != "" && path != "-" {
			list = append(list, named{flag, filepath.Clean(path)})
		}
	}
	slices.SortFunc(list, func(a, b named) int { return cmp.Or(cmp.Compare(a.path, b.path), cmp.Compare(a.flag, b.flag)) })
	for i := 1; i < len(list); i++ {
		if list[i].path == list[i-1].path {
			return fmt.Errorf("%s and %s both name %s: give each its own file", list[i-1].flag, list[i].flag, list[i].path)
		}
	}
	return nil
}
