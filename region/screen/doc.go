// Package screen answers the question every part raises first: can the bath
// treat it? It looks for bores, threads and round channels, slots and other
// holes, winding passages, sharp edges and inside corners, thin walls and
// struts, gaps that close, closed cavities, pockets that hold gas or liquid, the
// fit into the bath and places for the contact, and ends in a verdict with its
// reasons.
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
