// Package render draws pictures of triangle meshes in software: orthographic,
// depth-buffered, with lines along feature edges and outlines.
//
// A picture is made in stages: the facets are sorted into bands of rows, every
// band is rasterised by one worker in facet order, lines are laid over by the
// same bands, and every pixel is then coloured from the samples it holds,
// averaged in linear light. Nothing depends on the number of workers: a band
// belongs to one worker, and of two facets at the same depth the lower index
// wins.
//
// The package knows no skins and no allowances: colours come from a Paint
// function. It also holds the published colour maps, hatches and the text that
// the sheets need.
//
//	model, err := render.NewModel(ctx, m, nil, render.ModelOptions{})
//	view := render.LookFrom(r3.Vector{X: 1, Y: -1, Z: 1}, r3.Vector{Z: 1})
//	view = view.Fit(m.Vertices, 400, 300, 10)
//	frame, err := render.Draw(ctx, model, view, render.Options{Width: 400, Height: 300})
package render
