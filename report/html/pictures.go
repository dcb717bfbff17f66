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
		leg, err := legend(s, l)
		if err != nil {
			return err
		}
		p.Legends = append(p.Legends, leg)
	}
	for _, l := range []sheet.Layer{sheet.Deviation, sheet.FinishedRa, sheet.Exposure, sheet.Finish} {
		if !s.Has(l) {
			continue
		}
		m := Map{Title: l.Title()}
		for _, v := range []sheet.View{sheet.Above, sheet.Below} {
			pic, err := picture(ctx, s, v, l)
			if err != nil {
				return err
			}
			m.Pictures = append(m.Pictures, pic)
		}
		var err error
		if m.Legend, err = legend(s, l); err != nil {
			return err
		}
		p.Maps = append(p.Maps, m)
	}
	if err := p.addSections(ctx, s, cuts); err != nil {
		return err
	}
	p.Turn = newTurntable(s, turnFacets)
	return ctx.Err()
}

// AddViews fills in the views of the part's skins, for a page about a part that was not grown.
func (p *Page) AddViews(ctx context.Context, s *sheet.Stage) error {
	for _, v := range sheet.Views {
		q, err := picture(ctx, s, v, sheet.Skins)
		if err != nil {
			return err
		}
		p.Views = append(p.Views, q)
	}
	leg, err := legend(s, sheet.Skins)
	p.Legends = append(p.Legends, leg)
	return err
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
