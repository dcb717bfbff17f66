package html

import (
	"bytes"
	"context"
	"fmt"
	"slices"

	"skinstock/mesh"
	"skinstock/report/sheet"
)

// Size of the pictures of a view in pixels.
const (
	viewW = 720
	viewH = 600
)

// AddPictures fills in the pairs, legends, further views, sections and the
// turntable from a stage. Cuts of nil means the stage's own choice, in which the
// given places come first.
func (p *Page) AddPictures(ctx context.Context, s *sheet.Stage, cuts []sheet.Cut, places ...sheet.Spot) error {
	err := mesh.Beside(
		ctx, s.Workers(),
		func() error { return p.addViews(ctx, s) },
		func() error {
			if cuts == nil {
				cuts = s.AutoCuts(places...)
			}
			return p.addSections(ctx, s, cuts)
		},
		func() error { p.Turn = newTurntable(s, turnFacets); return nil },
	)
	if err != nil {
		return err
	}
	return ctx.Err()
}

// addViews fills in the pairs, the maps and their legends.
func (p *Page) addViews(ctx context.Context, s *sheet.Stage) error {
	maps := []sheet.Layer{sheet.Deviation, sheet.FinishedRa, sheet.Exposure, sheet.Finish}
	maps = slices.DeleteFunc(maps, func(l sheet.Layer) bool { return !s.Has(l) })
	ofMap := make([][]Picture, len(maps))
	for _, v := range sheet.Views {
		layers := []sheet.Layer{sheet.Allowance, sheet.Skins}
		if v == sheet.Above || v == sheet.Below {
			layers = append(layers, maps...)
		}
		ps, err := pictures(ctx, s, v, layers...)
		if err != nil {
			return err
		}
		p.Pairs = append(p.Pairs, Pair{Name: v.String(), Before: ps[1], After: ps[0]})
		for i, q := range ps[2:] {
			ofMap[i] = append(ofMap[i], q)
		}
	}
	for _, l := range []sheet.Layer{sheet.Skins, sheet.Allowance} {
		leg, err := legend(s, l)
		if err != nil {
			return err
		}
		p.Legends = append(p.Legends, leg)
	}
	for i, l := range maps {
		leg, err := legend(s, l)
		if err != nil {
			return err
		}
		p.Maps = append(p.Maps, Map{Title: l.Title(), Pictures: ofMap[i], Legend: leg})
	}
	return nil
}

// AddViews fills in the views of the part's skins, for a page about a part that was not grown.
func (p *Page) AddViews(ctx context.Context, s *sheet.Stage) error {
	for _, v := range sheet.Views {
		q, err := pictures(ctx, s, v, sheet.Skins)
		if err != nil {
			return err
		}
		p.Views = append(p.Views, q...)
	}
	leg, err := legend(s, sheet.Skins)
	p.Legends = append(p.Legends, leg)
	return err
}

func (p *Page) addSections(ctx context.Context, s *sheet.Stage, cuts []sheet.Cut) error {
	for i, c := range cuts {
		d, err := s.Section(ctx, c)
		if err != nil {
			return err
		}
		p.Sections = append(p.Sections, Drawing{Title: d.Title, SVG: d.SVG(fmt.Sprintf("cut%d", i))})
	}
	return nil
}

func legend(s *sheet.Stage, l sheet.Layer) (Picture, error) {
	img, alt, err := s.Legend(l)
	if err != nil {
		return Picture{}, err
	}
	var b bytes.Buffer
	if err := sheet.WritePNG(&b, img); err != nil {
		return Picture{}, err
	}
	return Picture{Title: "Legend", Alt: alt, PNG: b.Bytes(), Width: img.Rect.Dx(), Height: img.Rect.Dy()}, nil
}

// pictures draws layers of a view.
func pictures(ctx context.Context, s *sheet.Stage, v sheet.View, layers ...sheet.Layer) ([]Picture, error) {
	drawn, err := s.Labelled(ctx, v, layers, viewW, viewH)
	if err != nil {
		return nil, err
	}
	var out []Picture
	for i, q := range drawn {
		var b bytes.Buffer
		if err := sheet.WritePNG(&b, q.Image); err != nil {
			return nil, err
		}
		l := layers[i]
		pic := Picture{
			Title: l.Title(), Alt: fmt.Sprintf("The part %s: %s", v, l.Title()),
			PNG: b.Bytes(), Width: viewW, Height: viewH,
		}
		for _, n := range q.Pins {
			pic.Pins = append(pic.Pins, Pin(n))
		}
		out = append(out, pic)
	}
	return out, nil
}
