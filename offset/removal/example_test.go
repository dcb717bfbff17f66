package removal_test

import (
	"fmt"

	"github.com/golang/geo/s1"

	"skinstock/offset/recipe"
	"skinstock/offset/removal"
	"skinstock/region"
)

// The worked example of references.md 5: 200 cm2 of Ti-6Al-4V at 0.25 A/cm2
// and 40 % efficiency for 10 minutes. The recipe is made to call for just that
// depth: levelling depth 16.359504 um and a target one e-fold down.
func Example() {
	r, err := recipe.Parse("example.yaml", []byte(`
version: 1
name: worked-example
material:
  name: Ti-6Al-4V
  density_g_per_cm3: 4.43
  elements:
    - {symbol: Ti, mass_fraction: 0.90, valence: 4}
    - {symbol: Al, mass_fraction: 0.06, valence: 3}
    - {symbol: V, mass_fraction: 0.04, valence: 5}
print: {layer_um: 30}
roughness:
  classes: {upskin: {ra_um: 10}, vertical: {ra_um: 10}, downskin: {ra_um: 10}}
finish:
  target_ra_um: 3.6787944117144233
  floor_ra_um: 0
  clear: 0
  levelling: {depth_um: 16.359504}
bath: {current_density_a_per_cm2: 0.25, efficiency: 0.4, voltage_v: 300}
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := removal.New(r, removal.Part{Areas: []removal.Area{{Skin: region.Vertical, Theta: 90 * s1.Degree, AreaMM2: 20000}}}, removal.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	b := p.Bath
	fmt.Printf("rate %.6f um/min, %.4f min, %.3f um\n", p.Stages[0].RateUMPerMin, b.TimeMin, b.MeanDepthUM)
	fmt.Printf("%.0f A, %.0f C, %.5f g, %.3f kWh\n", b.CurrentA, 3600*b.ChargeAh, b.MassRemovedG, b.EnergyKWh)
	fmt.Printf("Faraday depth %.4f um, efficiency %.1f %%\n", b.FullDepthUM, b.EfficiencyPct)
	for _, l := range p.Sheet().Groups[0].Lines {
		if l.Key == "allowance_um" {
			fmt.Printf("%s %.1f %s = %s (%s)\n", l.Label, l.Value, l.Unit, l.How, l.Source)
		}
	}
	// Output:
	// rate 1.635950 um/min, 10.0000 min, 16.360 um
	// 50 A, 30000 C, 1.44945 g, 2.500 kWh
	// Faraday depth 40.8988 um, efficiency 40.0 %
	// allowance 41.4 um = 16.4 + 25.0 - 0.0 + 0.0 um (assumed)
}
