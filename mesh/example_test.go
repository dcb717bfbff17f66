package mesh_test

import (
	"fmt"

	"skinstock/mesh"
)

// Loose facets become a solid: corners at one place become one vertex, and what
// was mended is told.
func ExampleBuild() {
	a, b, c, d := [3]float32{0, 0, 0}, [3]float32{10, 0, 0}, [3]float32{0, 10, 0}, [3]float32{0, 0, 10}
	loose := &mesh.Soup{Corners: [][3][3]float32{
		{a, c, b},
		{a, b, d},
		{a, d, c},
		{b, d, c}, // turned inside out
	}}
	m, repairs, err := mesh.Build(loose, mesh.BuildOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d facets, %d vertices, %.1f mm3\n", len(m.Facets), len(m.Vertices), m.Volume())
	for _, f := range repairs.Findings() {
		fmt.Println(f.Message)
	}

	// Without its last facet it bounds no metal.
	loose.Corners = loose.Corners[:3]
	_, _, err = mesh.Build(loose, mesh.BuildOptions{UnitMM: 25.4})
	fmt.Println(err)
	// Output:
	// 4 facets, 4 vertices, 166.7 mm3
	// 1 facets turned to agree with their neighbours
	// the surface does not close: 3 open edges; the first at (127, 127, 0) mm, facet 1; cracks up to 0.044 mm were tried: close the holes in the CAD program and export again, or allow a wider weld tolerance
}
