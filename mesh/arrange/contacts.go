package arrange

import (
	"cmp"
	"context"
	"slices"

	"skinstock/mesh"
)

// chunk is how many leaves or facets a worker takes at a time.
const chunk = 2048

// parallel is mesh.Spread with the range's number instead of the worker's.
func parallel(ctx context.Context, workers, n, size int, work func(c, lo, hi int) error) error {
	return mesh.Spread(ctx, n, size, workers, func(_, lo, hi int) error { return work(lo/size, lo, hi) })
}

// contacts returns every pair of facets that meet, ordered by facet. A facet
// without area is in contact with itself.
func (t *tree) contacts(ctx context.Context, workers int) ([]contact, error) {
	parts := make([][]contact, (t.leaves+chunk-1)/chunk)
	err := parallel(ctx, workers, t.leaves, chunk, func(c, lo, hi int) error {
		var found []contact
		for l := lo; l < hi; l++ {
			found = t.leafContacts(found, l)
		}
		parts[c] = found
		return nil
	})
	if err != nil {
		return nil, err
	}
	return sortContacts(slices.Concat(parts...)), nil
}

// leafContacts adds the contacts between leaf l and itself and the later leaves.
func (t *tree) leafContacts(found []contact, l int) []contact {
	own := t.leaf(l)
	if len(own) == 0 {
		return found
	}
	var boxes [leafSize]box
	for i, f := range own {
		boxes[i] = t.s.box(f)
		if t.s.alive(f) && t.s.flat(f) {
			found = append(found, contact{a: f, b: f, kind: touching})
		}
	}
	t.visit(&t.nodes[t.leaves-1+l], l, func(m int) {
		for j, g := range t.leaf(m) {
			bg := t.s.box(g)
			for i, f := range own {
				if m == l && i >= j || !boxes[i].meets(&bg) {
					continue
				}
				if c := t.s.meet(min(f, g), max(f, g)); c.kind != apart {
					found = append(found, c)
				}
			}
		}
	})
	return found
}

// contactsOf returns the contacts of the given facets with all others, ordered by facet.
func (t *tree) contactsOf(ctx context.Context, workers int, facets []int32) ([]contact, error) {
	const few = 64
	asked := make([]bool, len(t.s.facets))
	for _, f := range facets {
		asked[f] = true
	}
	parts := make([][]contact, (len(facets)+few-1)/few)
	err := parallel(ctx, workers, len(facets), few, func(c, lo, hi int) error {
		for _, f := range facets[lo:hi] {
			parts[c] = t.facetContacts(parts[c], f, asked)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return sortContacts(slices.Concat(parts...)), nil
}

// facetContacts adds the contacts of facet f, but for those with lower facets that are
// asked too; nil for none.
func (t *tree) facetContacts(found []contact, f int32, asked []bool) []contact {
	if !t.s.alive(f) {
		return found
	}
	if t.s.flat(f) {
		found = append(found, contact{a: f, b: f, kind: touching})
	}
	b := t.s.box(f)
	t.visit(&b, 0, func(l int) {
		for _, g := range t.leaf(l) {
			if g == f || g < f && asked != nil && asked[g] {
				continue
			}
			if bg := t.s.box(g); !b.meets(&bg) {
				continue
			}
			if c := t.s.meet(min(f, g), max(f, g)); c.kind != apart {
				found = append(found, c)
			}
		}
	})
	return found
}

// sortContacts orders by facet and drops repetitions.
func sortContacts(c []contact) []contact {
	slices.SortFunc(c, func(x, y contact) int {
		if x.a != y.a {
			return cmp.Compare(x.a, y.a)
		}
		return cmp.Compare(x.b, y.b)
	})
	return slices.CompactFunc(c, func(x, y contact) bool { return x.a == y.a && x.b == y.b })
}
