package hydraulics

// Nominal bores of water hoses in m. The nominal size is all that a hose's
// name says: the true bore of a 3/4 inch hose may be a few percent off and its
// couplings narrower. Source: the inch of 25.4 mm; the sizes are common
// practice, no source.
const (
	Bore58InM = 0.625 * 0.0254
	Bore34InM = 0.750 * 0.0254
	Bore1InM  = 1.000 * 0.0254
)

// Equivalent roughness of hose walls in m.
const (
	// DrawnTubingRoughnessM is that of drawn tubing, which a new plastic hose
	// comes near. Source: Moody, Transactions of the ASME 66 (1944), quoted
	// from memory.
	DrawnTubingRoughnessM = 1.5e-6
	// RubberHoseRoughnessM is that of smoothed rubber, plus or minus 60
	// percent. Source: White, Fluid Mechanics, table of roughness, quoted from
	// memory.
	RubberHoseRoughnessM = 1e-5
)
