// Package screen answers the question every part raises first: can the bath
// treat it? It looks for bores and round channels, sharp edges and inside
// corners, thin walls and struts, gaps that close and closed cavities, and
// ends in a verdict with its reasons.
//
// Every rule stands in a file of its own and returns measures and findings.
// Limits come in as plain numbers (see Limits); the package knows no recipe.
// Lengths are mm.
//
//	rep, err := screen.Screen(ctx, m, nil, nil, screen.Options{})
//	fmt.Println(rep.Verdict, len(rep.Bores))
//
// The result is the same whatever the number of workers.
package screen
