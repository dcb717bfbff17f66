package recipe_test

import (
	"fmt"

	"skinstock/offset/recipe"
)

func Example() {
	r, err := recipe.Load(recipe.Default)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.Title)
	for _, v := range r.Values() {
		if v.Path == "material.density_g_per_cm3" || v.Path == "bath.rate_um_per_min" {
			fmt.Printf("%s = %g %s (%s)\n", v.Path, v.Value, v.Unit, v.Source)
		}
	}
	_, err = recipe.Parse("shop.yaml", []byte("version: 1\nname: shop\nmaterial: {name: Ti, density: 4.4}\n"))
	fmt.Println(err)
	// Output:
	// Ti-6Al-4V in layers of 30 um
	// material.density_g_per_cm3 = 4.43 g/cm3 (published)
	// bath.rate_um_per_min = 2 um/min (assumed)
	// shop.yaml: line 3: material.density: unknown key; did you mean density_g_per_cm3?
}
