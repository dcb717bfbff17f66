// Package field computes where the current of a bath goes: the local factor f
// by which each place of a part is removed faster or slower than its average.
//
// The electrolyte outside the part obeys Laplace's equation for the potential
// phi. The part is the anode at potential 1 behind a linear polarisation,
// phi + L q = 1, where q is the flux that leaves the part, per mm, and L the
// polarisation length in mm; L = 0 is the primary distribution, a large L makes
// any shape even. The far field is at infinity, or on walls of given potential.
//
// Solve is the full model: boundary elements with the flux itself as the
// unknown, constant on each panel,
//
//	V q + L (1/2 - K) q + V w = 1 on the part, V q - L K q + V w = g on walls,
//
// where V is the potential of a layer of charge, K that of a layer of dipoles,
// both in closed form on flat triangles nearby and by a fast multipole method
// elsewhere, so that time and memory grow about linearly with the panels. A
// panel is a patch of the mesh's own facets, cut or gathered to the wanted size:
// the shape is never simplified, and what a panel takes is handed back to its
// facets without loss.
//
// Fast is the same with few panels and coarser sums; its comment tells how far it is off.
//
// Capacitance is in units of 4 pi eps, a length: the total flux at potential 1
// is 4 pi times the capacitance.
//
// The package moves no surface; package loop below it does, with a rule handed in.
package field
