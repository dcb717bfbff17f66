package calibrate_test

import (
	"fmt"
	"strings"

	"skinstock/offset/calibrate"
	"skinstock/offset/recipe"
)

// Five walls, treated for different times in a bath that takes 2 um a minute.
func Example() {
	coupons, err := calibrate.Read("walls.csv", strings.NewReader(`coupon,inclination_deg,side,ra_before_um,ra_after_um,thickness_before_mm,thickness_after_mm,minutes
A,90,up,9.1,5.80,3.000,2.962,10
B,90,up,8.8,3.50,3.000,2.918,20
C,90,up,9.3,2.42,3.000,2.876,31
D,90,up,9.0,1.05,3.000,2.762,60
E,90,up,9.2,0.70,3.000,2.598,100
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	base, err := recipe.Load(recipe.Default)
	if err != nil {
		fmt.Println(err)
		return
	}
	res, err := calibrate.Run(coupons, base, calibrate.Options{Name: "bench", By: "walls.csv"})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range res.Parameters {
		fmt.Printf("%s %.2f %s, 95 %% interval %.2f to %.2f\n", p.Label, p.Value, p.Unit, p.Lo, p.Hi)
	}
	fmt.Println(res.Recipe.Bath.RateUMPerMin.Source, res.Recipe.Bath.RateUMPerMin.By)
	// Output:
	// Ra as built, up 90 deg 9.08 um, 95 % interval 8.84 to 9.32
	// levelling depth 39.05 um, 95 % interval 38.66 to 39.45
	// floor of Ra 0.65 um, 95 % interval 0.64 to 0.66
	// removal rate 1.99 um/min, 95 % interval 1.91 to 2.07
	// measured walls.csv
}
