package offset_test

import (
	"bytes"
	"context"
	"fmt"

	"github.com/golang/geo/r3"

	"skinstock/mesh/part"
	"skinstock/mesh/solid"
	"skinstock/mesh/stl"
	"skinstock/offset"
	"skinstock/offset/recipe"
	"skinstock/offset/removal"
	"skinstock/region"
)

// boxPart is a 20 x 10 x 5 mm box, read as from a file.
func boxPart() (*part.Part, error) {
	var file bytes.Buffer
	if err := stl.WriteBinary(&file, solid.Box(r3.Vector{}, r3.Vector{X: 20, Y: 10, Z: 5}), "box"); err != nil {
		return nil, err
	}
	return part.Read("box.stl", &file, int64(file.Len()), part.Options{})
}

// The main job: read a part, grow it by the built-in recipe, prove it, write it.
func ExampleCompensate() {
	p, err := boxPart()
	if err != nil {
		fmt.Println(err)
		return
	}
	rec, err := recipe.Load(recipe.Default)
	if err != nil {
		fmt.Println(err)
		return
	}
	res, err := offset.Compensate(context.Background(), p, offset.Job{Recipe: rec, BuildDir: r3.Vector{Z: 1}})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range res.Plan.Skins {
		fmt.Printf("%-8s %3.0f mm2, allowance %.1f um (assumed)\n", s.Skin, s.AreaMM2, s.AllowanceUM.Mean)
	}
	fmt.Printf("bath %.1f min, set by the %s\n", res.Plan.TimeMin, res.Plan.Governs)
	fmt.Printf("volume %.1f mm3, grown %.1f mm3\n", res.Nominal.Volume(), res.GrownMM3)
	fmt.Printf("shortfall at most %.1f um\n", 1000*res.Proof.All.Shortfall.Max.Value)
	for _, f := range res.Findings {
		fmt.Printf("%s %s: %s\n", f.Severity, f.Code, f.Message)
	}
	var out bytes.Buffer
	err = stl.WriteBinary(&out, res.Grown, "box grown")
	fmt.Println(out.Len(), "bytes,", err)
	// Output:
	// upskin   200 mm2, allowance 164.8 um (assumed)
	// vertical 300 mm2, allowance 155.8 um (assumed)
	// downskin 200 mm2, allowance 192.8 um (assumed)
	// bath 64.4 min, set by the downskin
	// volume 1000.0 mm3, grown 1122.1 mm3
	// shortfall at most 0.0 um
	// warning assumed_value: 54 of the 57 values of recipe ti-6al-4v-30 are assumed, not measured
	// 684 bytes, <nil>
}

// The proof alone, on two parts whoever grew them: a box that somebody made
// 0.15 mm larger all around carries 150 um everywhere, and lacks 10 of 160.
func ExampleVerify() {
	nominal, err := boxPart()
	if err != nil {
		fmt.Println(err)
		return
	}
	const more = 0.15
	grown := &part.Part{Name: "grown.stl", Mesh: solid.Box(r3.Vector{X: -more, Y: -more, Z: -more}, r3.Vector{X: 20 + more, Y: 10 + more, Z: 5 + more})}
	rec, err := recipe.Load(recipe.Default)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, um := range []float64{150, 160} {
		job := offset.Job{Recipe: rec, BuildDir: r3.Vector{Z: 1}, FixedUM: map[region.Skin]float64{region.Upskin: um, region.Vertical: um, region.Downskin: um}}
		res, err := offset.Verify(context.Background(), nominal, grown, job, 0.001)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.0f um asked for: short by %.1f um, passes: %t\n", um, 1000*res.Proof.All.Shortfall.Max.Value, res.Proof.Within())
	}
	// Output:
	// 150 um asked for: short by 0.0 um, passes: true
	// 160 um asked for: short by 10.0 um, passes: false
}

// worsening is a surface that gets rougher the further it looks down.
type worsening struct{ topRaUM, ceilingRaUM float64 }

func (w worsening) At(_ region.Skin, deg float64) removal.Surface {
	ra := w.topRaUM + (w.ceilingRaUM-w.topRaUM)*deg/180
	return removal.Surface{RaUM: ra, RzUM: 5 * ra, RpUM: 3 * ra, RvUM: 2 * ra}
}

func (worsening) Continuous() bool { return true }

// A roughness model of one's own stands in for the recipe's.
func ExamplePlan_roughness() {
	p, err := boxPart()
	if err != nil {
		fmt.Println(err)
		return
	}
	rec, err := recipe.Load(recipe.Default)
	if err != nil {
		fmt.Println(err)
		return
	}
	pl, err := offset.Plan(context.Background(), p, offset.Job{
		Recipe: rec, BuildDir: r3.Vector{Z: 1}, Roughness: worsening{topRaUM: 8, ceilingRaUM: 20},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range pl.Plan.Skins {
		fmt.Printf("%-8s Ra %4.1f um, calls for %.1f um\n", s.Skin, s.RaUM, s.CalledForUM)
	}
	// Output:
	// upskin   Ra  8.0 um, calls for 76.8 um
	// vertical Ra 14.0 um, calls for 100.3 um
	// downskin Ra 20.0 um, calls for 115.0 um
}
