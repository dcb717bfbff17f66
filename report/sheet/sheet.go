package sheet

import (
	"context"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"

	"skinstock/report/render"
)

// Options tells how large a sheet is.
type Options struct {
	Width, Height int // pixels; 0 means 1600 and 1200

	// Tight makes the sheet only as high as its pictures need, and lists the pins
	// below them.
	Tight bool

	// Layers are the one or two things shown in every view; nil means Skins
	// and Allowance.
	Layers []Layer
	// Views are the views shown; nil means all.
	Views []View
}

// CheckSize refuses a size in pixels that has no room for a sheet's lettering.
func CheckSize(w, h int) error {
	if w < minWidth || h < minHeight {
		return fmt.Errorf("%w: a sheet of %d x %d pixels is too small for its lettering: at least %d x %d", ErrInput, w, h, minWidth, minHeight)
	}
	return nil
}

// defaults fills in what is not given, and checks the rest.
func (o Options) defaults(s *Stage) (Options, error) {
	if o.Width == 0 && o.Height == 0 {
		o.Width, o.Height = 1600, 1200
	}
	if err := CheckSize(o.Width, o.Height); err != nil {
		return o, err
	}
	if o.Layers == nil {
		o.Layers = []Layer{Skins, Allowance}
	}
	if o.Views == nil {
		o.Views = Views[:]
	}
	if len(o.Layers) == 0 || len(o.Layers) > 2 || len(o.Views) == 0 || len(o.Views) > len(Views) {
		return o, fmt.Errorf("%w: a sheet shows one or two layers in one to %d views", ErrInput, len(Views))
	}
	for _, l := range o.Layers {
		if l < 0 || l >= numLayers || !s.Has(l) {
			return o, fmt.Errorf("%w: there is nothing to show as layer %d", ErrInput, l)
		}
	}
	for _, v := range o.Views {
		if v < 0 || int(v) >= len(Views) {
			return o, fmt.Errorf("%w: there is no view %d", ErrInput, v)
		}
	}
	return o, nil
}

// Sizes a sheet must have for its lettering to fit.
const (
	minWidth, minHeight = 1200, 800
	headHeight          = 84
	footHeight          = 168
	margin              = 20
)

// Sheet draws all views of the nominal and the grown part on one picture.
func (s *Stage) Sheet(ctx context.Context, opt Options) (*image.RGBA, error) {
	imgs, err := s.Sheets(ctx, opt)
	if err != nil {
		return nil, err
	}
	return imgs[0], nil
}

// Sheets draws several sheets, in less time than one by one where they show the
// same views.
func (s *Stage) Sheets(ctx context.Context, opts ...Options) ([]*image.RGBA, error) {
	var boards []*board
	var slots []slot
	for _, opt := range opts {
		b, err := s.board(opt)
		if err != nil {
			return nil, err
		}
		boards, slots = append(boards, b), append(slots, b.slots...)
	}
	for len(slots) > 0 {
		first := slots[0].picture
		var together, rest []slot
		var layers []Layer
		for _, q := range slots {
			if q.picture == first {
				together, layers = append(together, q), append(layers, q.layer)
			} else {
				rest = append(rest, q)
			}
		}
		err := s.pictures(ctx, first.view, layers, first.w, first.h, first.pxPerMM, func(i int, f *render.Frame) error {
			q := together[i]
			s.cell(q.on.canvas, q.on.pen, q.rect, f, first.view, q.layer, 0)
			return nil
		})
		if err != nil {
			return nil, err
		}
		slots = rest
	}
	var imgs []*image.RGBA
	for _, b := range boards {
		s.letter(b)
		imgs = append(imgs, b.canvas.img)
	}
	return imgs, nil
}

// board is a sheet with the places of its pictures.
type board struct {
	Options
	canvas canvas
	pen    *render.Pen
	foot   int // pixels high
	slots  []slot
}

// slot is the place of a picture.
type slot struct {
	on      *board
	rect    image.Rectangle
	layer   Layer
	picture picture
}

// picture is what a slot shows but for its colours.
type picture struct {
	view    View
	w, h    int
	pxPerMM float64
}

// board lays out a sheet.
func (s *Stage) board(opt Options) (*board, error) {
	opt, err := opt.defaults(s)
	if err != nil {
		return nil, err
	}
	var sizes []point
	for _, v := range opt.Views {
		e := s.extent[v].Size()
		sizes = append(sizes, point{e.X, e.Y})
	}
	foot := footHeight
	if opt.Tight {
		foot = max(foot, s.keyHeight())
	}
	area := image.Rect(margin, headHeight, opt.Width-margin, opt.Height-foot)
	p := arrange(area, sizes, len(opt.Layers))
	if opt.Tight && p.needs < area.Dy() {
		opt.Height -= area.Dy() - p.needs
		area.Max.Y = opt.Height - foot
		p = arrange(area, sizes, len(opt.Layers))
	}
	b := &board{Options: opt, foot: foot, canvas: newCanvas(opt.Width, opt.Height, white)}
	if b.pen, err = render.NewPen(b.canvas.img); err != nil {
		return nil, err
	}
	for r, row := range p.cells {
		for k, q := range row {
			in := inside(p.rects[r][k])
			b.slots = append(b.slots, slot{b, p.rects[r][k], opt.Layers[q.layer], picture{opt.Views[q.view], in.Dx(), in.Dy(), p.pxPerMM}})
		}
	}
	return b, nil
}

// letter writes a sheet's head and foot.
func (s *Stage) letter(b *board) {
	s.head(b.canvas, b.pen)
	s.foot(b.canvas, b.pen, b.Layers, b.foot)
	if b.Tight {
		s.key(b.canvas, b.pen, image.Rect(keyLeft, b.Height-b.foot+12, b.Width-margin, b.Height-margin))
	}
}

// inside is the part of a cell that its picture fills.
func inside(cell image.Rectangle) image.Rectangle {
	return image.Rect(cell.Min.X+1, cell.Min.Y+cellTop-8, cell.Max.X-1, cell.Max.Y-cellBottom+8)
}

// cell puts a picture into its cell with its caption and marks, and returns its
// pins. The caption stands at the left, or at the right with an align of 1.
func (s *Stage) cell(c canvas, pen *render.Pen, r image.Rectangle, frame *render.Frame, v View, l Layer, align float64) []pinPlace {
	inner := inside(r)
	draw.Draw(c.img, inner, frame.Image, image.Point{}, draw.Src)
	c.border(r, frameInk)
	x := float64(r.Min.X+10) + align*float64(r.Dx()-20)
	pen.Write(x, float64(r.Min.Y+20), v.String(), render.Style{Px: 14, Bold: true, Color: ink, MaxPx: r.Dx() - 20, Align: align})
	pen.Write(x, float64(r.Min.Y+37), l.Title(), render.Style{Px: 13, Color: softInk, MaxPx: r.Dx() - 20, Align: align})
	scaleBar(c, pen, r, frame.View.PxPerMM)
	buildArrow(c, pen, r, frame.View, s.in.BuildDir)
	if l == Skins && !s.in.PinSkins {
		letters(c, pen, figure{inner, frame}, s.in.Skins)
		return nil
	}
	places := placePins(s.in.Pins, frame, inner)
	drawPins(c, pen, places)
	return places
}

// head writes what the sheet is about.
func (s *Stage) head(c canvas, pen *render.Pen) {
	w := c.img.Rect.Dx()
	side := 300
	pen.Write(margin, 38, s.in.Part, render.Style{Px: 26, Bold: true, Color: ink, MaxPx: w - 2*margin - side - 20})
	lo, hi := s.in.Nominal.Bounds()
	d := hi.Sub(lo)
	line := fmt.Sprintf("%.3f × %.3f × %.3f mm nominal  ·  %s facets  ·  build direction %s  ·  recipe: ",
		d.X, d.Y, d.Z, grouped(len(s.in.Nominal.Facets)), direction(s.in.BuildDir))
	st := render.Style{Px: 15, Color: softInk, MaxPx: w - 2*margin - side - 20}
	x := pen.Write(margin, 66, line, st)
	st.MaxPx -= int(x)
	// Clean drops the blank at the end of the line.
	pen.Write(margin+x+5, 66, s.in.Recipe, st)
	pen.Write(float64(w-margin), 30, s.in.Version, render.Style{Px: 14, Color: softInk, Align: 1, MaxPx: side})
	if s.in.Assumed {
		text := "assumed values: see the recipe"
		b := render.Style{Px: 14, Bold: true, Color: ink, Align: 1}
		tw := int(math.Ceil(pen.Width(text, b)))
		box := image.Rect(w-margin-tw-20, 42, w-margin, 70)
		c.border(box, ink)
		c.border(box.Inset(1), ink)
		pen.Write(float64(w-margin-10), 61, text, b)
	}
}

// foot draws the legends, that of the first layer to the left.
func (s *Stage) foot(c canvas, pen *render.Pen, ls []Layer, high int) {
	w, h := c.img.Rect.Dx(), c.img.Rect.Dy()
	top := h - high + 12
	half := margin + (w-2*margin)/2
	boxes := [...]image.Rectangle{
		image.Rect(margin, top, half-20, h-margin), image.Rect(half+20, top, w-margin, h-margin),
	}
	for i, l := range ls {
		if l == Skins {
			s.skinLegend(c, pen, boxes[i])
		} else {
			s.mapLegend(c, pen, boxes[i], l)
		}
	}
	y := float64(h - margin - 20*min(len(s.in.Notes), 2) + 14)
	for i := range min(len(s.in.Notes), 2) {
		pen.Write(float64(boxes[1].Min.X), y+20*float64(i), s.in.Notes[i],
			render.Style{Px: 13, Color: softInk, MaxPx: boxes[1].Dx()})
	}
}

// WritePNG writes a picture as PNG.
func WritePNG(w io.Writer, img image.Image) error {
	// A seventh larger than by default, in less than half the time.
	e := png.Encoder{CompressionLevel: png.BestSpeed}
	return e.Encode(w, img)
}
