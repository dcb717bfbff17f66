package recipe

// Roughness is what the printer leaves on each skin.
type Roughness struct {
	Model RoughnessModel `json:"model,omitempty" enum:"classes table stair_step" jsonschema:"classes: one value a skin (default); table: measured against inclination; stair_step: computed from layers and powder"`

	RzPerRa   Quantity `json:"rz_per_ra,omitzero" spec:"- >=2 <=20 =5" jsonschema:"Rz over Ra where Rz is not given; 2 is the least any profile has"`
	PeakShare Quantity `json:"peak_share,omitzero" spec:"- >0 <1 =0.5" jsonschema:"Rp over Rz where Rp is not given"`

	Classes   Classes   `json:"classes,omitzero" jsonschema:"one row a skin (model classes)"`
	Table     Table     `json:"table,omitzero" jsonschema:"rows by inclination, upward and downward facing (model table)"`
	StairStep StairStep `json:"stair_step,omitzero" jsonschema:"figures of the layer and powder model (model stair_step)"`
}

// RoughnessModel names a source of as-built roughness.
type RoughnessModel string

// Roughness models.
const (
	ModelClasses   RoughnessModel = "classes"
	ModelTable     RoughnessModel = "table"
	ModelStairStep RoughnessModel = "stair_step"
)

// Classes is one row a skin. Platform may be left out: it takes the downskin row.
type Classes struct {
	Upskin   *Row `json:"upskin,omitempty" jsonschema:"faces that look up"`
	Vertical *Row `json:"vertical,omitempty" jsonschema:"faces steeper than vertical_from_deg"`
	Downskin *Row `json:"downskin,omitempty" jsonschema:"faces that look down"`
	Platform *Row `json:"platform,omitempty" jsonschema:"platform contact; the downskin row when left out"`
}

// Row is the as-built surface of one skin.
type Row struct {
	RaUM         Quantity `json:"ra_um" spec:"um >0 <=500" jsonschema:"arithmetic mean roughness as built"`
	RzUM         Quantity `json:"rz_um,omitzero" spec:"um >0 <=3000 ?" jsonschema:"maximum height Rp + Rv"`
	RpUM         Quantity `json:"rp_um,omitzero" spec:"um >0 <=3000 ?" jsonschema:"peak height over the mean line"`
	RvUM         Quantity `json:"rv_um,omitzero" spec:"um >0 <=3000 ?" jsonschema:"pit depth under the mean line"`
	OversizeUM   Quantity `json:"oversize_um,omitzero" spec:"um >=-500 <=2000 =0" jsonschema:"how far the as-built surface lies outside the size datum, e.g. dross on downskins"`
	WavelengthUM Quantity `json:"wavelength_um,omitzero" spec:"um >0 <=100000 ?" jsonschema:"pitch of the roughness; used by the sinusoid law and by the fatigue indication"`
}

// Table is roughness against inclination.
type Table struct {
	Up      []TableRow   `json:"up,omitempty" jsonschema:"upward facing, inclination rising"`
	Down    []TableRow   `json:"down,omitempty" jsonschema:"downward facing, inclination rising"`
	Outside TableOutside `json:"outside,omitempty" enum:"clamp error" jsonschema:"what happens beyond the first and last row: clamp uses that row and says so (default), error stops"`
}

// TableRow is one row of a table.
type TableRow struct {
	Deg Quantity `json:"deg" spec:"deg >=0 <=90" jsonschema:"inclination to the platform: 0 flat, 90 a wall"`
	Row `yaml:",inline"`
}

// TableOutside is what happens beyond a table's ends.
type TableOutside string

// What happens beyond a table's ends.
const (
	OutsideClamp TableOutside = "clamp"
	OutsideError TableOutside = "error"
)

// StairStep holds the figures of the layer and powder model: the sawtooth of
// the layers (references.md 3.1), powder particles that cover a share of the
// surface (references.md 2, plateau), melt tracks on upward and dross on
// downward facing surfaces. The parts add as the root of the sum of squares.
type StairStep struct {
	CutoffMM        Quantity `json:"cutoff_mm,omitzero" spec:"mm >0 <=80 =2.5" jsonschema:"cut-off of the roughness filter: longer steps count as waviness"`
	ParticleUM      Quantity `json:"particle_um,omitzero" spec:"um >=0 <=500 ?" jsonschema:"height of stuck powder particles"`
	CoveredWall     Quantity `json:"covered_wall,omitzero" spec:"- >=0 <=0.5 ?" jsonschema:"share of a wall that stuck particles cover; falls with the sine of the inclination"`
	TrackRaUM       Quantity `json:"track_ra_um,omitzero" spec:"um >=0 <=200 =0" jsonschema:"roughness of melt tracks on a flat top; falls with the cosine of the inclination"`
	DrossRaUM       Quantity `json:"dross_ra_um,omitzero" spec:"um >=0 <=500 =0" jsonschema:"roughness of dross under a flat roof; falls with the cosine of the inclination"`
	DrossOversizeUM Quantity `json:"dross_oversize_um,omitzero" spec:"um >=-500 <=2000 =0" jsonschema:"oversize of dross under a flat roof; falls with the cosine of the inclination"`
}
