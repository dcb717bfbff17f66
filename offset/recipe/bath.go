package recipe

// Bath is the bath and its supply. Either the removal rate is given, or
// current density and efficiency; when both are, they are checked against
// Faraday's law.
type Bath struct {
	RateUMPerMin          Quantity `json:"rate_um_per_min,omitzero" spec:"um/min >0 <=1000 ?" jsonschema:"removal depth per minute where the local factor is 1"`
	CurrentDensityAPerCM2 Quantity `json:"current_density_a_per_cm2,omitzero" spec:"A/cm2 >0 <=100 ?" jsonschema:"mean current density on the part"`
	Efficiency            Quantity `json:"efficiency,omitzero" spec:"- >0 <=1 ?" jsonschema:"share of the charge that dissolves metal, 0 to 1"`
	VoltageV              Quantity `json:"voltage_v,omitzero" spec:"V >0 <=1000 ?" jsonschema:"voltage at the supply"`

	PolarisationMM Quantity `json:"polarisation_mm,omitzero" spec:"mm >=0 <=100000 =10" jsonschema:"polarisation length of the bath and its film, for field runs: 0 the least even current, large values an even one"`

	FarField FarField  `json:"far_field,omitempty" enum:"infinity vessel" jsonschema:"what field runs take for the other pole: infinity, cathodes far away on all sides (default), or vessel, the walls of vessel_mm"`
	VesselMM []float64 `json:"vessel_mm,omitempty" jsonschema:"inner length, width and depth of the vessel; the part hangs in its middle, its file's z up"`
	Cathodes []Cathode `json:"cathodes,omitempty" jsonschema:"cathode plates for field runs; in a vessel they take the current in place of its walls, which then insulate"`

	VolumeL     Quantity `json:"volume_l,omitzero" spec:"l >0 <=1000000 ?" jsonschema:"bath volume"`
	LifeGPerL   Quantity `json:"life_g_per_l,omitzero" spec:"g/l >0 <=1000 ?" jsonschema:"dissolved metal at which the bath is spent"`
	LoadedGPerL Quantity `json:"loaded_g_per_l,omitzero" spec:"g/l >=0 <=1000 =0" jsonschema:"metal already dissolved in the bath"`

	EnvelopeMM  []float64 `json:"envelope_mm,omitempty" jsonschema:"usable length, width and depth of the bath"`
	ClearanceMM Quantity  `json:"clearance_mm,omitzero" spec:"mm >=0 <=2000 =20" jsonschema:"distance to keep from wall, cathode and neighbour"`

	MaxCurrentA Quantity `json:"max_current_a,omitzero" spec:"A >0 <=1000000 ?" jsonschema:"current limit of the rectifier"`
	MaxPowerKW  Quantity `json:"max_power_kw,omitzero" spec:"kW >0 <=100000 ?" jsonschema:"power limit of the rectifier"`

	Stages []Stage `json:"stages,omitempty" jsonschema:"treatment stages in order; left out, the bath is one stage"`
}

// FarField names what surrounds the part in field runs.
type FarField string

// Far fields.
const (
	FarInfinity FarField = "infinity" // cathodes far away on all sides
	FarVessel   FarField = "vessel"   // the walls of the vessel, or the plates in it
)

// Cathode is a plate in the bath, a box along the axes of the part's file.
type Cathode struct {
	AtMM   []float64 `json:"at_mm" jsonschema:"middle of the plate, from the middle of the part's box: x, y, z"`
	SizeMM []float64 `json:"size_mm" jsonschema:"extent of the plate along x, y, z"`
}

// Stage is one treatment stage. What it leaves out it takes from the bath.
// One stage, and one only, gives no depth: it takes what the others leave.
type Stage struct {
	Name                  string   `json:"name" jsonschema:"name on the shop-floor sheet"`
	DepthUM               Quantity `json:"depth_um,omitzero" spec:"um >0 <=5000 ?" jsonschema:"depth this stage takes; left out, what the other stages leave"`
	RateUMPerMin          Quantity `json:"rate_um_per_min,omitzero" spec:"um/min >0 <=1000 ?" jsonschema:"removal depth per minute"`
	CurrentDensityAPerCM2 Quantity `json:"current_density_a_per_cm2,omitzero" spec:"A/cm2 >0 <=100 ?" jsonschema:"mean current density on the part"`
	VoltageV              Quantity `json:"voltage_v,omitzero" spec:"V >0 <=1000 ?" jsonschema:"voltage at the supply"`
	LevellingDepthUM      Quantity `json:"levelling_depth_um,omitzero" spec:"um >0 <=5000 ?" jsonschema:"levelling depth of this stage (law empirical)"`
	FloorRaUM             Quantity `json:"floor_ra_um,omitzero" spec:"um >=0 <=100 ?" jsonschema:"roughness this stage does not get below"`
}
