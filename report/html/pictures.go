package html

import (
	"bytes"
	"context"
	"fmt"

	"skinstock/report/sheet"
)

// Size of the pictures of a view in pixels.
const (
	viewW = 720
	viewH = 600
)

// AddPictures fills in the pairs, legends, further views, sections and the
// turntable from a stage. Cuts of nil means the stage's own choice.
func (p *Page) AddPictures(ctx context.Context, s *sheet.Stage, cuts []sheet.Cut) error {
	for _, v := range sheet.Views {
		before, err := picture(ctx, s, v, sheet.Skins)
		if err != nil {
			return err
		}
		after, err := picture(ctx, s, v, sheet.Allowance)
		if err != nil {
			return err
		}
		p.Pairs = append(p.Pairs, Pair{Name: v.String(), Before: before, After: after})
	}
	for _, l := range []sheet.Layer{sheet.Skins, sheet.Allowance} {
		if err := p.addLegend(s, l, &p.Legends); err != nil {
			return err
		}
	}
	for _, l := range []sheet.Layer{sheet.Deviation, sheet.FinishedRa} {
		if !s.Has(l) {
			continue
		}
		for _, v := range []sheet.View{sheet.Above, sheet.Below} {
			pic, err := picture(ctx, s, v, l)
			if err != nil {
				return err
			}
			p.Views = append(p.Views, pic)
		}
		if err := p.addLegend(s, l, &p.Views); err != nil {
			return err
		}
	}
	if err := p.addSections(ctx, s, cuts); err != nil {
		return err
	}
	p.Turn = newTurntable(s, turnFacets)
	return ctx.Err()
}

func (p *Page) addSections(ctx context.Context, s *sheet.Stage, cuts []sheet.Cut) error {
	if cuts == nil {
		cuts = s.AutoCuts()
	}
	for i, c := range cuts {
		d, err := s.Section(ctx, c)
		if err != nil {
			return err
		}
		p.Sections = append(p.Sections, Drawing{Title: d.Title, SVG: d.SVG(fmt.Sprintf("cut%d", i))})
	}
	return nil
}

func (p *Page) addLegend(s *sheet.Stage, l sheet.Layer, to *[]Picture) error {
	img, alt, err := s.Legend(l)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := sheet.WritePNG(&b, img); err != nil {
		return err
	}
	*to = append(*to, Picture{Title: "Legend", Alt: alt, PNG: b.Bytes(), Width: img.Rect.Dx(), Height: img.Rect.Dy()})
	return nil
}

func picture(ctx context.Context, s *sheet.Stage, v sheet.View, l sheet.Layer) (Picture, error) {
	q, err := s.Labelled(ctx, v, l, viewW, viewH)
	if err != nil {
		return Picture{}, err
	}
	var b bytes.Buffer
	if err := sheet.WritePNG(&b, q.Image); err != nil {
		return Picture{}, err
	}
	pic := Picture{
		Title: l.Title(), Alt: fmt.Sprintf("The part %s: %s", v, l.Title()),
		PNG: b.Bytes(), Width: viewW, Height: viewH,
	}
	for _, n := range q.Pins {
		pic.Pins = append(pic.Pins, Pin(n))
	}
	return pic, nil
}
