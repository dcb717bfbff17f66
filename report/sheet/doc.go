// Package sheet arranges pictures of a part for review: four fixed views, each
// before (the nominal part, its skins) and after (the grown part, its
// allowance), with legends, scale bars and the build direction.
//
// All pictures of a sheet share one scale, so that lengths can be compared
// between them, and the before and the after picture of a view share one
// camera. The views are defined against the build direction, which points up
// in every picture.
//
//	stage, err := sheet.NewStage(ctx, sheet.Input{Part: "arm", Nominal: m, Grown: g, ...}, 0)
//	img, err := stage.Sheet(ctx, sheet.Options{Width: 1600, Height: 1200})
package sheet
