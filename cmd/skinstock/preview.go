package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"skinstock/offset"
	"skinstock/report"
	"skinstock/report/sheet"
)

// previewFlags are the flags of preview beyond those of every part.
type previewFlags struct {
	partFlags
	dir      string
	views    []string
	layers   []string
	size     string
	format   string
	sections []string
}

// pictures is what preview is asked to draw.
type pictures struct {
	sheet sheet.Options
	cuts  []sheet.Cut // nil for the places that the part suggests
	svg   bool
}

// maxSidePx bounds a side of a sheet, so that a slip of a digit takes no memory.
const maxSidePx = 10000

func (a *app) previewCommand() *cobra.Command {
	var p previewFlags
	cmd := &cobra.Command{
		Use:   "preview PART.stl",
		Short: "Draw pictures of the part as designed and as grown, and sections through both",
		Long: `preview grows the part as compensate does, but writes pictures only: sheet.png
with the views, and section-1 and so on. The part is proved only when the
deviation is to be shown.

` + keepHelp,
		Example: `  skinstock preview bracket.stl -o out
  skinstock preview bracket.stl --views below --layers skins,deviation --size 1200x900
  skinstock preview bracket.stl --section x=12.5 --format svg`,
		Args: needs("PART.stl"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.preview(cmd.Context(), args[0], &p)
		},
	}
	p.add(cmd)
	p.addSurface(cmd)
	p.addRemesh(cmd)
	f := cmd.Flags()
	f.StringVarP(&p.dir, "output", "o", "preview", "folder `DIR` for the pictures, which is made if need be")
	f.StringSliceVar(&p.views, "views", nil, "`views` of the sheet: "+slugs(sheet.Views[:])+" (default: all)")
	f.StringSliceVar(&p.layers, "layers", nil, "one or two `layers` of the sheet: "+slugs(layers)+" (default: skins,allowance)")
	f.StringVar(&p.size, "size", "1600x1200", "`WxH` of the sheet in pixels")
	f.StringVar(&p.format, "format", "png", "form of the sections: png or svg")
	f.StringArrayVar(&p.sections, "section", nil, sectionUsage)
	completes(cmd, "views", slugList(sheet.Views[:])...)
	completes(cmd, "layers", slugList(layers)...)
	completes(cmd, "format", "png", "svg")
	return cmd
}

var layers = []sheet.Layer{sheet.Skins, sheet.Allowance, sheet.Deviation, sheet.FinishedRa, sheet.Exposure, sheet.Finish}

func slugList[T interface{ Slug() string }](ts []T) (names []string) {
	for _, t := range ts {
		names = append(names, t.Slug())
	}
	return names
}

func slugs[T interface{ Slug() string }](ts []T) string { return strings.Join(slugList(ts), ", ") }

// pictures reads the flags.
func (p *previewFlags) pictures() (pictures, error) {
	var out pictures
	for _, s := range p.views {
		v, err := sheet.ParseView(s)
		if err != nil {
			return out, fmt.Errorf("--views: %w", err)
		}
		out.sheet.Views = append(out.sheet.Views, v)
	}
	for _, s := range p.layers {
		l, err := sheet.ParseLayer(s)
		if err != nil {
			return out, fmt.Errorf("--layers: %w", err)
		}
		out.sheet.Layers = append(out.sheet.Layers, l)
	}
	field := p.field == string(offset.FieldFast) || p.field == string(offset.FieldFull)
	if !field && slices.Contains(out.sheet.Layers, sheet.Exposure) || p.field != string(offset.FieldFull) && slices.Contains(out.sheet.Layers, sheet.Finish) {
		return out, errors.New("--layers: exposure is a layer of --field fast or full, predicted-finish of full")
	}
	if len(out.sheet.Layers) > 2 {
		return out, errors.New("--layers: a sheet shows one or two layers")
	}
	w, h, _ := strings.Cut(p.size, "x")
	var errW, errH error
	out.sheet.Width, errW = strconv.Atoi(w)
	out.sheet.Height, errH = strconv.Atoi(h)
	if errW != nil || errH != nil || min(out.sheet.Width, out.sheet.Height) < 1 || max(out.sheet.Width, out.sheet.Height) > maxSidePx {
		return out, fmt.Errorf("--size %q: give width and height in pixels up to %d, such as 1600x1200", p.size, maxSidePx)
	}
	if err := sheet.CheckSize(out.sheet.Width, out.sheet.Height); err != nil {
		return out, fmt.Errorf("--size %q: %w", p.size, err)
	}
	if p.format != "png" && p.format != "svg" {
		return out, fmt.Errorf("--format %q: use png or svg", p.format)
	}
	out.svg = p.format == "svg"
	var err error
	out.cuts, err = parseCuts(p.sections)
	return out, err
}

func (a *app) preview(ctx context.Context, name string, p *previewFlags) error {
	want, err := p.pictures()
	if err != nil {
		return usage(err)
	}
	if err := checkFailOn(p.failOn); err != nil {
		return err
	}
	o, err := a.order(name, &p.partFlags)
	if err != nil {
		return err
	}
	if err := p.checkJSON(name); err != nil {
		return err
	}
	if err := checkFolder(p.dir, p.files(len(want.cuts)), p.force, name); err != nil {
		return err
	}
	o.job.NoVerify = !slices.Contains(want.sheet.Layers, sheet.Deviation)
	show, done := a.con.Progress()
	defer done()
	res, err := a.growPart(ctx, o, show)
	if err != nil {
		return err
	}
	show("pictures", 0.9)
	doc := report.ComposeResult("preview", version(), res, report.Written{})
	doc.Output = nil // no part is written
	spots, err := spots(ctx, res.Planned, want.cuts, a.workers)
	if err != nil {
		return err
	}
	if err := a.draw(ctx, report.SheetInput(res, doc), spots, want, p, name); err != nil {
		return err
	}
	done()
	return a.deliver(ctx, doc, &p.partFlags, []string{name})
}

// sectionFile is the name of a section's file.
func (p *previewFlags) sectionFile(i int) string { return fmt.Sprintf("section-%d.%s", i+1, p.format) }

// files lists what preview writes, with so many sections asked for.
func (p *previewFlags) files(sections int) []string {
	if sections == 0 {
		sections = sheet.AutoCutCount
	}
	names := []string{"sheet.png"}
	for i := range sections {
		names = append(names, p.sectionFile(i))
	}
	return names
}

// draw writes the sheet and the sections.
func (a *app) draw(ctx context.Context, in sheet.Input, spots []sheet.Spot, want pictures, p *previewFlags, name string) error {
	stage, err := sheet.NewStage(ctx, in, a.workers)
	if err != nil {
		return badOutput(err)
	}
	img, err := stage.Sheet(ctx, want.sheet)
	if err != nil {
		return pictureError(err)
	}
	if err := os.MkdirAll(p.dir, 0o777); err != nil {
		return badOutput(err)
	}
	write := func(file string, fill func(io.Writer) error) error {
		return a.writeTo(ctx, filepath.Join(p.dir, file), p.force, []string{name}, fill)
	}
	if err := write("sheet.png", func(w io.Writer) error { return sheet.WritePNG(w, img) }); err != nil {
		return err
	}
	if want.cuts == nil {
		want.cuts = stage.AutoCuts(spots...)
	}
	for i, c := range want.cuts {
		d, err := stage.Section(ctx, c)
		if err != nil {
			return pictureError(err)
		}
		err = write(p.sectionFile(i), func(w io.Writer) error { return writeDrawing(w, d, want.svg) })
		if err != nil {
			return err
		}
	}
	return nil
}

func writeDrawing(w io.Writer, d *sheet.Drawing, svg bool) error {
	if svg {
		_, err := io.WriteString(w, d.SVG(""))
		return err
	}
	img, err := d.Picture()
	if err != nil {
		return err
	}
	return sheet.WritePNG(w, img)
}

// pictureError gives an error about a picture its exit code: one that cannot be
// drawn as asked, such as a section beside the part, is a wrong flag.
func pictureError(err error) error {
	if errors.Is(err, sheet.ErrInput) {
		return usage(err)
	}
	return badOutput(err)
}
