package report

import (
	"encoding/json"
	"io"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh/finding"
	"skinstock/region"
)

// Schema names the form of the JSON document. Fields may be added within v1;
// those that are there keep their meaning.
const Schema = "skinstock/report/v1"

// Point is a place or direction as JSON writes it: [x, y, z], lengths in mm.
type Point [3]Number

// PointOf returns v as JSON writes it.
func PointOf(v r3.Vector) Point { return Point{Number(v.X), Number(v.Y), Number(v.Z)} }

// Vector returns the place or direction as a vector.
func (p Point) Vector() r3.Vector {
	return r3.Vector{X: float64(p[0]), Y: float64(p[1]), Z: float64(p[2])}
}

// Number is a float64 that JSON can always carry: what is not finite becomes null.
type Number float64

// MarshalJSON writes the shortest exact form, or null.
func (n Number) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(n)) || math.IsInf(float64(n), 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

// Document is the JSON report of one part. A section that a run did not reach is absent.
type Document struct {
	Schema     string      `json:"schema"`
	Tool       Tool        `json:"tool"`
	Command    string      `json:"command"`
	Input      Input       `json:"input"`
	BuildDir   Point       `json:"build_dir"`
	Recipe     Recipe      `json:"recipe"`
	Skins      []Skin      `json:"skins"`
	Keep       []Keep      `json:"keep,omitempty"`
	Sizes      []Size      `json:"sizes,omitempty"`
	Bath       *Bath       `json:"bath,omitempty"`
	Planning   *Planning   `json:"planning,omitempty"`
	Surface    *Surface    `json:"surface,omitempty"`
	Output     *Output     `json:"output,omitempty"`
	Verify     *Verify     `json:"verify,omitempty"`
	Field      *Field      `json:"field,omitempty"`
	Features   *Features   `json:"features,omitempty"`
	Verdict    string      `json:"verdict,omitempty"`
	Reasons    []Reason    `json:"reasons,omitempty"` // of the verdict, weightiest first
	NotJudged  []string    `json:"not_judged,omitempty"`
	Directions []Direction `json:"directions,omitempty"` // best first

	Orientation *Orientation `json:"orientation,omitempty"`

	Findings []Finding `json:"findings"`
	Cautions []string  `json:"cautions"`
}

// Tool is the program that wrote the document.
type Tool struct {
	Name    string `json:"name"`
	Version string `json:"version"`
}

// Input is the part as read and mended.
type Input struct {
	File      string         `json:"file"`
	SHA256    string         `json:"sha256"`
	Format    string         `json:"format"`
	Triangles int            `json:"triangles"`
	Vertices  int            `json:"vertices"`
	Units     string         `json:"units"`
	BboxMM    [2]Point       `json:"bbox_mm"`
	AreaMM2   Number         `json:"area_mm2"`
	VolumeMM3 Number         `json:"volume_mm3"`
	Closed    bool           `json:"closed"`
	Shells    int            `json:"shells"`
	Repairs   map[string]int `json:"repairs"`
	Solids    []Solid        `json:"solids,omitempty"` // that the file names, in its order
}

// Solid is a named run of facets of the input file.
type Solid struct {
	Name   string `json:"name"`
	Facets int    `json:"facets"`
}

// Recipe names the process data used.
type Recipe struct {
	Name    string   `json:"name"`
	File    string   `json:"file"` // built-in name or file, as given
	SHA256  string   `json:"sha256"`
	Values  int      `json:"values"`
	Assumed []string `json:"assumed"` // values used that nobody measured
}

// Skin is one row of the skin table. Roughness and depths are um.
type Skin struct {
	Skin         region.Skin `json:"skin"`
	Faces        int         `json:"faces"`
	AreaMM2      Number      `json:"area_mm2"`
	RaUM         Number      `json:"ra_um"`
	RzUM         Number      `json:"rz_um"`
	CalledForUM  Number      `json:"called_for_um"`
	TakenUM      Number      `json:"taken_um"`
	StandoffUM   Number      `json:"standoff_um"`
	OversizeUM   Number      `json:"oversize_um"`
	AllowanceUM  Range       `json:"allowance_um"`
	FinishedRaUM Number      `json:"finished_ra_um"`
	Fixed        bool        `json:"fixed"`    // the allowance was given, not computed
	GivenUM      Number      `json:"given_um"` // what was given; 0 when it was computed
}

// Range is the spread of a value over a skin, the mean weighted by area.
type Range struct {
	Min  Number `json:"min"`
	Mean Number `json:"mean"`
	Max  Number `json:"max"`
}

// Bath is the bath sheet in short.
type Bath struct {
	TimeMin       Number `json:"time_min"`
	GovernedBy    string `json:"governed_by"`
	AreaCM2       Number `json:"area_cm2"`
	CurrentA      Number `json:"current_a"`
	ChargeAh      Number `json:"charge_ah"`
	EnergyKWh     Number `json:"energy_kwh"`
	MassRemovedG  Number `json:"mass_removed_g"`
	MassAddedG    Number `json:"mass_added_g"`
	HydrogenL     Number `json:"hydrogen_l_25c"`
	LoadingGPerL  Number `json:"loading_g_per_l"`
	CurrentLimitA Number `json:"current_limit_a"`
}

// Surface is how the nominal surface was cut and rebuilt to be grown.
type Surface struct {
	ChordUM     Number `json:"chord_um"`                  // asked for; 0 leaves every facet whole
	RefinedFrom int    `json:"refined_from,omitempty"`    // facets of the part, where large ones were cut
	RefinedTo   int    `json:"refined_to,omitempty"`      // facets after that
	InPart      bool   `json:"refined_in_part,omitempty"` // more cuts were called for than the bound lets
	Remeshed    bool   `json:"remeshed,omitempty"`        // rebuilt from the distance to the part: all facets are new
	CellMM      Number `json:"cell_mm,omitempty"`         // of the grid it was rebuilt on
}

// Output is the grown part as written.
type Output struct {
	File              string `json:"file"`
	SHA256            string `json:"sha256"`
	Triangles         int    `json:"triangles"`
	VolumeMM3         Number `json:"volume_mm3"`
	Closed            bool   `json:"closed"`
	SelfIntersections *int   `json:"self_intersections"` // pairs of facets that cross; null when nobody looked
	Rebuilt           int    `json:"rebuilt_facets"`     // facets that are no moved input facet
}

// Verify is the proof in figures. Shortfall is stock missing at a place, excess
// is stock beyond what the place calls for.
type Verify struct {
	Samples     int    `json:"samples"`
	ShortfallUM Tail   `json:"shortfall_um"`
	ExcessUM    Tail   `json:"excess_um"`
	RMSUM       Number `json:"rms_um"`
	P95UM       Number `json:"excess_p95_um"`
	ToleranceUM Number `json:"tolerance_um"`
	Within      bool   `json:"within_tolerance"`
	ShortPlaces int    `json:"short_places"` // patches short by more than the tolerance

	GrownSamples     int    `json:"grown_samples"` // seen from the grown side
	GrownShortfallUM Number `json:"grown_shortfall_um"`
	ReachUM          Number `json:"reach_um"` // greatest distance beyond the allowance, as at mitred edges

	Skins     []VerifySkin `json:"skins"`
	Histogram Histogram    `json:"histogram"` // of excess (positive) and shortfall (negative) by area
}

// VerifySkin is the proof of one skin.
type VerifySkin struct {
	Skin        region.Skin `json:"skin"`
	Samples     int         `json:"samples"`
	ShortfallUM Tail        `json:"shortfall_um"`
	ExcessUM    Tail        `json:"excess_um"`
	RMSUM       Number      `json:"rms_um"`
}

// Histogram is shares of the area in equal steps.
type Histogram struct {
	StartUM Number   `json:"start_um"`
	StepUM  Number   `json:"step_um"`
	Share   []Number `json:"share"`
}

// Tail is the upper end of a distribution, with the place of its largest value.
type Tail struct {
	P99 Number `json:"p99"`
	Max Number `json:"max"`
	At  Point  `json:"at_mm"`
}

// Field is what a field run found.
type Field struct {
	Model          string  `json:"model"`
	WagnerLengthMM Number  `json:"wagner_length_mm"`
	Panels         int     `json:"panels"`
	CapacitanceMM  Number  `json:"capacitance_mm"`
	Factor         Range   `json:"factor"` // flux over the part's mean flux
	P05            Number  `json:"factor_p05"`
	P95            Number  `json:"factor_p95"`
	FarField       string  `json:"far_field"`      // infinity or vessel
	Cathodes       int     `json:"cathode_plates"` // given by the recipe
	ErrorEstimate  Number  `json:"error_estimate"`
	UnreachedMM2   Number  `json:"unreached_mm2"`
	Primary        *Bound  `json:"primary,omitempty"` // without polarisation: the least even end; the other end is 1 everywhere
	Loop           *Loop   `json:"loop,omitempty"`
	Finish         *Finish `json:"finish,omitempty"` // verify
}

// Bound is how a factor is spread at one end of what is possible.
type Bound struct {
	Min Number `json:"min"`
	P05 Number `json:"p05"`
	P95 Number `json:"p95"`
	Max Number `json:"max"`
}

// Loop is how closing the loop on the field went: the predicted deviation of the
// finished surface from nominal, away from sharp edges, before and after each correction.
type Loop struct {
	RemovalUM  Number   `json:"removal_um"` // where the factor is 1
	UniformP95 Number   `json:"uniform_p95_um"`
	HistoryP95 []Number `json:"history_p95_um"`
	P95        Number   `json:"p95_um"` // of the stock that was used
	Max        Number   `json:"max_um"`
	EdgeP95    Number   `json:"edge_p95_um"`    // what is missing beside sharp edges
	EdgeRadius Number   `json:"edge_radius_um"` // predicted radius of edges sharper than 120 degrees that jut out, the middle over their length; 0: they lose no more than their faces
	Capped     int      `json:"capped_facets"`  // facets whose stock met the limit

	EdgeRadiusP95     Number `json:"edge_radius_p95_um"`     // 95 % of their length come out below
	UniformEdgeRadius Number `json:"uniform_edge_radius_um"` // with the same stock everywhere

	Skins     []FinishedSkin `json:"skins"` // the whole part comes last, as all
	Histogram Histogram      `json:"histogram"`
}

// FinishedSkin is the predicted deviation of the finished surface from nominal
// over one skin, or all, away from sharp edges: beside the figure of the same stock everywhere.
type FinishedSkin struct {
	Skin       string  `json:"skin"`
	AreaMM2    Number  `json:"area_mm2"`         // away from sharp edges
	BesideMM2  Number  `json:"beside_edges_mm2"` // within three removals of one
	Mean       Number  `json:"mean_um"`          // positive where metal is left
	P95        Number  `json:"p95_um"`
	Max        Number  `json:"max_um"`
	UniformP95 *Number `json:"uniform_p95_um,omitempty"`
}

// Finish is the predicted finish of a given grown part, by the field around it.
type Finish struct {
	RemovalUM Number         `json:"removal_um"` // where the factor is 1
	Skins     []FinishedSkin `json:"skins"`      // the whole part comes last, as all
}

// Finding is one finding. AtMM is null when the finding has no place.
type Finding struct {
	Code     string           `json:"code"`
	Severity finding.Severity `json:"severity"`
	Message  string           `json:"message"`
	Remedy   string           `json:"remedy,omitempty"`
	AtMM     *Point           `json:"at_mm"`
	SizeMM   Number           `json:"size_mm"`
	Count    int              `json:"count"`
}

// Findings returns findings as the document lists them: worst first, then by
// code, otherwise in the order given. It never returns nil.
func Findings(fs []finding.Finding) []Finding {
	out := make([]Finding, 0, len(fs))
	for _, f := range finding.Sorted(fs) {
		d := Finding{Code: f.Code, Severity: f.Severity, Message: f.Message, Remedy: f.Remedy, SizeMM: Number(f.SizeMM), Count: max(f.Count, 1)}
		if f.At != nil {
			p := PointOf(*f.At)
			d.AtMM = &p
		}
		out = append(out, d)
	}
	return out
}

// WriteJSON writes the document, indented, with a line end.
func (d *Document) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(d)
}
