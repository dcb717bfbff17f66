package recipe

// FormatVersion is the version of the file format this program reads and writes.
const FormatVersion = 1

// Recipe is one print and finish process.
type Recipe struct {
	Version int    `json:"version" jsonschema:"version of the file format; 1"`
	Name    string `json:"name" jsonschema:"short name: lower case letters, digits, dot, hyphen and underscore"`
	Title   string `json:"title,omitempty" jsonschema:"one line for people"`
	Note    string `json:"note,omitempty" jsonschema:"anything worth knowing"`

	Material  Material  `json:"material" jsonschema:"the alloy"`
	Print     Print     `json:"print" jsonschema:"the printing process"`
	Roughness Roughness `json:"roughness" jsonschema:"what the printer leaves on each skin"`
	Finish    Finish    `json:"finish" jsonschema:"what the bath has to reach"`
	Bath      Bath      `json:"bath" jsonschema:"the bath and its supply"`
	Geometry  Geometry  `json:"geometry,omitzero" jsonschema:"rules for skins and for moving the surface"`
	Screen    Screen    `json:"screen,omitzero" jsonschema:"limits of the screening"`

	// File is the name the recipe was read under, for messages.
	File string `json:"-"`
	// SHA256 is the hexadecimal digest of the exact bytes that were read.
	SHA256 string `json:"-"`
	// Bytes are the exact bytes that were read.
	Bytes []byte `json:"-"`

	lines map[string]int // path of a key to its line
}

// Material is the alloy.
type Material struct {
	Name           string    `json:"name" jsonschema:"trade designation of the alloy"`
	DensityGPerCM3 Quantity  `json:"density_g_per_cm3" spec:"g/cm3 >=0.5 <=25" jsonschema:"density of the printed metal"`
	HardnessHV     Quantity  `json:"hardness_hv,omitzero" spec:"HV >=10 <=2000 ?" jsonschema:"Vickers hardness; without it no fatigue indication is given"`
	Elements       []Element `json:"elements,omitempty" jsonschema:"composition by mass with the valence each element dissolves with; needed for charge checks"`
}

// Element is one constituent of an alloy.
type Element struct {
	Symbol       string   `json:"symbol" jsonschema:"chemical symbol"`
	MassFraction Quantity `json:"mass_fraction" spec:"- >0 <=1" jsonschema:"share of the mass, 0 to 1"`
	Valence      Quantity `json:"valence" spec:"- >=1 <=8" jsonschema:"electrons each atom gives up when it dissolves"`
}

// Print is the printing process.
type Print struct {
	LayerUM Quantity `json:"layer_um" spec:"um >=5 <=500" jsonschema:"layer thickness"`
	// SizeDatum tells what the machine's size calibration touches.
	SizeDatum SizeDatum `json:"size_datum,omitempty" enum:"peaks mean" jsonschema:"what the size calibration of the machine touches: the peaks (default) or the mean surface"`
	// EnvelopeMM is the build space of the machine; empty when not given.
	EnvelopeMM []float64 `json:"envelope_mm,omitempty" jsonschema:"usable length, width and height of the build space"`
	AccuracyUM Quantity  `json:"accuracy_um,omitzero" spec:"um >=0 <=2000 ?" jsonschema:"half-width of the band in which a printed size falls"`
}

// SizeDatum is what the machine's size calibration touches.
type SizeDatum string

// Size data.
const (
	DatumPeaks SizeDatum = "peaks" // the mean surface lies Rp inside the CAD surface
	DatumMean  SizeDatum = "mean"  // the mean surface lies on the CAD surface
)

// Finish is what the bath has to reach.
type Finish struct {
	TargetRaUM Quantity  `json:"target_ra_um" spec:"um >0 <=100" jsonschema:"arithmetic mean roughness wanted after the bath"`
	FloorRaUM  Quantity  `json:"floor_ra_um" spec:"um >=0 <=100" jsonschema:"roughness the bath does not get below"`
	Levelling  Levelling `json:"levelling" jsonschema:"how fast roughness falls with depth"`
	Clear      Quantity  `json:"clear,omitzero" spec:"- >=0 <=5 =1" jsonschema:"how many times the pit depth Rv must come off, so that valley roots are gone"`
	Exposure   Exposure  `json:"exposure,omitempty" enum:"shared own" jsonschema:"shared: one bath and one time for all skins (default); own: each skin until it is done"`
	ExtraUM    Quantity  `json:"extra_um,omitzero" spec:"um >=-500 <=2000 =0" jsonschema:"stock added everywhere on top"`
}

// Exposure tells whether all skins share one bath time.
type Exposure string

// Exposures.
const (
	ExposureShared Exposure = "shared"
	ExposureOwn    Exposure = "own"
)

// Levelling is how fast roughness falls with removal depth.
type Levelling struct {
	Law            LevellingLaw `json:"law,omitempty" enum:"empirical sinusoid" jsonschema:"empirical: exponential with a measured depth (default); sinusoid: ideal levelling of a waviness of known wavelength"`
	DepthUM        Quantity     `json:"depth_um,omitzero" spec:"um >0 <=5000 ?" jsonschema:"depth over which the roughness above the floor falls to 1/e (law empirical)"`
	WavelengthUM   Quantity     `json:"wavelength_um,omitzero" spec:"um >0 <=100000 ?" jsonschema:"wavelength of the roughness where the skin's row gives none (law sinusoid)"`
	PolarisationUM Quantity     `json:"polarisation_um,omitzero" spec:"um >=0 <=1000000 =0" jsonschema:"polarisation length: conductivity times polarisation resistance (law sinusoid)"`
	GapUM          Quantity     `json:"gap_um,omitzero" spec:"um >0 <=1000000 ?" jsonschema:"gap or diffusion layer thickness that limits the field; leave out for a wide bath (law sinusoid)"`
}

// LevellingLaw names a law of levelling.
type LevellingLaw string

// Levelling laws.
const (
	LawEmpirical LevellingLaw = "empirical"
	LawSinusoid  LevellingLaw = "sinusoid"
)

// Geometry holds the rules for skins and for moving the surface.
type Geometry struct {
	VerticalFromDeg Quantity `json:"vertical_from_deg,omitzero" spec:"deg >0 <=90 =60" jsonschema:"inclination to the platform from which a face counts as vertical"`
	MinIslandMM2    Quantity `json:"min_island_mm2,omitzero" spec:"mm2 >=0 <=10000 =1" jsonschema:"islands of a skin smaller than this join their neighbour"`
	OnPlatform      bool     `json:"on_platform,omitempty" jsonschema:"the part stands on the platform without supports: its underside is platform contact"`
	PlatformTolMM   Quantity `json:"platform_tol_mm,omitzero" spec:"mm >=0 <=5 =0.05" jsonschema:"faces within this of the lowest plane are platform contact"`
	FeatureAngleDeg Quantity `json:"feature_angle_deg,omitzero" spec:"deg >0 <=180 =40" jsonschema:"an edge whose faces turn by more than this is sharp: no allowance spreads across it"`
	MaxSlope        Quantity `json:"max_slope,omitzero" spec:"- >0 <=2 =0.15" jsonschema:"steepest change of the allowance over the surface, mm per mm"`
	MitreLimit      Quantity `json:"mitre_limit,omitzero" spec:"- >=1 <=20 =4" jsonschema:"longest move of a vertex, in allowances"`
	MinGapMM        Quantity `json:"min_gap_mm,omitzero" spec:"mm >=0 <=50 =0.3" jsonschema:"gap that must stay open between grown surfaces"`
}

// Screen holds the limits of the screening (references.md section 11).
type Screen struct {
	BoreReachDiameters    Quantity `json:"bore_reach_diameters,omitzero" spec:"- >0 <=50 =1" jsonschema:"depth of a blind hole that the bath treats well, in diameters"`
	BoreMarginalDiameters Quantity `json:"bore_marginal_diameters,omitzero" spec:"- >0 <=50 =2" jsonschema:"depth of a blind hole beyond which the bath does nothing useful, in diameters"`
	ThroughFactor         Quantity `json:"through_factor,omitzero" spec:"- >=1 <=10 =2" jsonschema:"how much further the bath reaches in a hole open at both ends"`
	MinBoreMM             Quantity `json:"min_bore_mm,omitzero" spec:"mm >=0 <=100 =2.5" jsonschema:"smallest bore worth treating without an inner cathode"`
	ShieldedWarn          Quantity `json:"shielded_warn,omitzero" spec:"- >0 <=1 =0.5" jsonschema:"share of the mean current below which a face is warned about"`
	ShieldedFail          Quantity `json:"shielded_fail,omitzero" spec:"- >=0 <=1 =0.15" jsonschema:"share of the mean current below which a face counts as not reached"`
	MinWallBuiltMM        Quantity `json:"min_wall_built_mm,omitzero" spec:"mm >=0 <=50 =0.4" jsonschema:"thinnest wall that prints"`
	MinWallAfterMM        Quantity `json:"min_wall_after_mm,omitzero" spec:"mm >=0 <=50 =0.4" jsonschema:"thinnest wall that may be left after the bath"`
	EdgeRadiusFactor      Quantity `json:"edge_radius_factor,omitzero" spec:"- >=0 <=20 =1" jsonschema:"radius of a square edge after the bath, in removal depths"`
	TipRadiusFactor       Quantity `json:"tip_radius_factor,omitzero" spec:"- >=0 <=50 =4" jsonschema:"radius of a sharp tip after the bath, in removal depths"`
	ContactMM             Quantity `json:"contact_mm,omitzero" spec:"mm >0 <=100 =4" jsonschema:"diameter of the contact that carries the part: the spot under it stays as printed"`
	SelfSupportingDeg     Quantity `json:"self_supporting_deg,omitzero" spec:"deg >=0 <=90 =45" jsonschema:"downskins flatter than this usually need supports"`
	UnsupportedLimitDeg   Quantity `json:"unsupported_limit_deg,omitzero" spec:"deg >=0 <=90 =30" jsonschema:"downskins flatter than this do not print without supports"`
}
