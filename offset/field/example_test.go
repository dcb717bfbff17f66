package field_test

import (
	"context"
	"fmt"

	"skinstock/mesh/solid"
	"skinstock/offset/field"
)

// A ball with a polarisation length of twice its radius in an endless bath: by
// symmetry the current is even, the capacitance is R/(1 + L/R), a closed form.
func ExampleSolve() {
	const radius, length = 5.0, 10.0
	f, err := field.Solve(context.Background(), solid.Icosphere(radius, 3), field.Options{PolarisationMM: length})
	if err != nil {
		fmt.Println(err)
		return
	}
	lo, hi := f.Factor[0], f.Factor[0]
	for _, v := range f.Factor {
		lo, hi = min(lo, v), max(hi, v)
	}
	fmt.Printf("local factor %.2f to %.2f\n", lo, hi)
	fmt.Printf("capacitance %.1f mm, closed form %.1f mm\n", f.CapacitanceMM, radius/(1+length/radius))
	// Output:
	// local factor 1.00 to 1.00
	// capacitance 1.7 mm, closed form 1.7 mm
}
