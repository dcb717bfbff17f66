package report

// Features are the shapes that screening measured.
type Features struct {
	Bores      []Bore     `json:"bores"`
	Slots      []Slot     `json:"slots"`
	Passages   []Passage  `json:"passages"`
	Cavities   []Cavity   `json:"cavities"`
	SharpEdges SharpEdges `json:"sharp_edges"`
	WallMM     Least      `json:"wall_mm"`
	GapMM      Least      `json:"gap_mm"`
	Pockets    []Pocket   `json:"pockets"`
	Hanging    *Hanging   `json:"hanging,omitempty"`
	Clamps     []Clamp    `json:"clamps"` // places for the contact, best first
}

// Bore is a round hole.
type Bore struct {
	At         Point  `json:"at_mm"`
	Axis       Point  `json:"axis"`
	DiameterMM Number `json:"diameter_mm"`
	DepthMM    Number `json:"depth_mm"`
	OpenEnds   int    `json:"open_ends"`
	ReachedMM  Number `json:"reached_mm"` // by the recipe's limit

	FieldReachMM Number `json:"field_reach_mm"`   // by the decay of the current, with the bath's polarisation
	PrimaryMM    Number `json:"primary_reach_mm"` // the same without polarisation
	UnreachedMM2 Number `json:"unreached_mm2"`
	Curved       bool   `json:"curved"`
	Threaded     bool   `json:"threaded"`
}

// Slot is a void between facing walls that is no round hole.
type Slot struct {
	At           Point  `json:"at_mm"`
	Axis         Point  `json:"axis"` // of the depth, outwards
	WidthMM      Number `json:"width_mm"`
	DepthMM      Number `json:"depth_mm"`
	LengthMM     Number `json:"length_mm"`
	OpenEnds     int    `json:"open_ends"`
	ReachedMM    Number `json:"reached_mm"`
	FieldReachMM Number `json:"field_reach_mm"`
	PrimaryMM    Number `json:"primary_reach_mm"`
	UnreachedMM2 Number `json:"unreached_mm2"`
}

// Passage is inner skin beyond the limit of reach that is no bore's or slot's.
type Passage struct {
	At           Point  `json:"at_mm"`
	WidthMM      Range  `json:"width_mm"`      // local; mean is that at the deepest place
	WayMM        Number `json:"way_mm"`        // from the deepest place to the bath
	NarrowMM     Number `json:"narrow_mm"`     // least width on that way
	Widths       Number `json:"way_widths"`    // that way in local widths; null where none was found
	UnreachedMM2 Number `json:"unreached_mm2"` // beyond the limit
}

// Cavity is a closed hollow.
type Cavity struct {
	At        Point  `json:"at_mm"`
	VolumeMM3 Number `json:"volume_mm3"`
}

// SharpEdges are the convex edges beyond the limit.
type SharpEdges struct {
	LengthMM    Number `json:"length_mm"`
	SharpestDeg Number `json:"sharpest_deg"`
}

// Least is the low end of a measure over the part.
type Least struct {
	Min Number `json:"min"`
	P01 Number `json:"p01,omitempty"`
	At  Point  `json:"at_mm"`
}

// Pocket holds gas or liquid in the bath.
type Pocket struct {
	Kind      string `json:"kind"`
	At        Point  `json:"at_mm"`
	DepthMM   Number `json:"depth_mm"`
	VolumeMM3 Number `json:"volume_mm3"`
}

// Hanging is how the part hangs in the bath.
type Hanging struct {
	Up         Point     `json:"up"`
	SizeMM     [3]Number `json:"size_mm"`  // length, width, depth of the grown part, turned to fit best
	SpareMM    *Number   `json:"spare_mm"` // least room left; null when the recipe gives no envelope
	GasMM3     Number    `json:"gas_mm3"`
	LiquidMM3  Number    `json:"liquid_mm3"`
	Directions int       `json:"directions_compared"`
	MassG      Number    `json:"mass_g"` // of the grown part on the hanger
}

// Clamp is a place for the contact.
type Clamp struct {
	At       Point  `json:"at_mm"`
	Normal   Point  `json:"normal"`
	RoomMM   Number `json:"room_mm"`   // diameter of the flat place
	BehindMM Number `json:"behind_mm"` // metal behind it
	MarkMM2  Number `json:"mark_mm2"`  // stays as printed
	ProudMM  Number `json:"proud_mm"`  // stands proud afterwards
	Factor   Number `json:"factor"`    // share of the mean current, 0 without a field run
}
