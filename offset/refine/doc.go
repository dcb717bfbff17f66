// Package refine cuts large facets where an allowance varies inside them.
//
// An allowance is linear on a facet, between the values of its corners. Where it
// falls off from a border of skins, from a masked face or around a narrow spot,
// a facet larger than the fall carries stock over all of it, or lacks it
// over all of it. [Run] tries every such facet in pieces: it asks for the
// allowance on them, and keeps the cuts of those edges where it differs from
// that between the corners by more than a tolerance; then again, until nothing
// differs, or pieces would be shorter than the allowance takes to fall from all to nothing.
//
// Facets on which the allowance is linear stay as they are. Pieces lie in their
// facet's plane and new vertices on its edges, the same for both facets beside
// an edge: the surface is the same, and closed as before.
package refine
