package bench

// Pump is a pump's plate, in SI; 0 for a figure that isn't known, unless its
// comment says that it is needed.
type Pump struct {
	// Name in the library, needed. Serial of the machine at hand, may be empty.
	Name   string `json:"name"`
	Serial string `json:"serial,omitempty"`
	// Invented marks a pump that exists nowhere.
	Invented bool `json:"invented,omitempty"`
	// FlowM3s at SpeedHz of the pump's shaft, and PressurePa, gauge, the
	// highest working pressure. All three are needed.
	FlowM3s    float64 `json:"flow_m3s"`
	SpeedHz    float64 `json:"speed_hz"`
	PressurePa float64 `json:"pressure_pa"`
	// DisplacementM3 per revolution, given or from the plungers. Needed.
	DisplacementM3 float64 `json:"displacement_m3"`
	// Plungers, PlungerM (diameter) and StrokeM, where known.
	Plungers int     `json:"plungers,omitempty"`
	PlungerM float64 `json:"plunger_m,omitempty"`
	StrokeM  float64 `json:"stroke_m,omitempty"`
	// MotorA is the motor's rated current, PowerFactor the one at plate
	// pressure and PowerFactorError the limits of its error.
	MotorA           float64 `json:"motor_a,omitempty"`
	PowerFactor      float64 `json:"power_factor,omitempty"`
	PowerFactorError float64 `json:"power_factor_error,omitempty"`
	// NPSHRequiredM at SpeedHz, from the data sheet.
	NPSHRequiredM float64 `json:"npsh_required_m,omitempty"`
	// ReliefPa is where unloader or relief valve are to open, gauge.
	ReliefPa float64 `json:"relief_pa,omitempty"`
	// NozzlePa is what the machine's own nozzle is to give, gauge.
	NozzlePa float64 `json:"nozzle_pa,omitempty"`
}

// Instrument is one channel's sensor with what is known of its errors.
type Instrument struct {
	// Channel's name, and the instrument's own Name and Serial.
	Channel string `json:"channel"`
	Name    string `json:"name"`
	Serial  string `json:"serial,omitempty"`
	// Zero is the limit of the error that is the same at every reading, in the
	// channel's unit; Gain that of the error in proportion to the reading.
	Zero float64 `json:"zero"`
	Gain float64 `json:"gain"`
	// Step is the resolution, in the channel's unit.
	Step float64 `json:"step,omitempty"`
	// Calibrated and Due are dates, YYYY-MM-DD; empty where nobody knows.
	Calibrated string `json:"calibrated,omitempty"`
	Due        string `json:"due,omitempty"`
	// Stated is the class as its user wrote it.
	Stated string `json:"stated,omitempty"`
}

// same reports whether two entries are one instrument in one state, so that
// its error is the same in both tests.
func (i Instrument) same(o Instrument) bool {
	return i.Channel == o.Channel && i.Name == o.Name && i.Serial == o.Serial && i.Calibrated == o.Calibrated
}

// Overdue reports whether its calibration had run out on a day, YYYY-MM-DD.
func (i Instrument) Overdue(day string) bool { return i.Due != "" && day > i.Due }

// Limit is one line of acceptance.
type Limit struct {
	// Figure is what is limited.
	Figure Figure `json:"figure"`
	// Min and Max in the figure's SI unit; nil for none.
	Min *float64 `json:"min,omitempty"`
	Max *float64 `json:"max,omitempty"`
	// Source says where the limit comes from.
	Source string `json:"source"`
	// Lacks is the library's key of the plate's value that the limit is a share
	// of and that the plate doesn't state; empty where it lacks nothing. A side
	// that lacks it is nil, and the limit can't be kept then.
	Lacks string `json:"lacks,omitempty"`
}

// Library is pumps, instruments and limits, as a file holds them.
type Library struct {
	Pumps       []Pump
	Instruments []Instrument
	// limits as written; shares of the plate wait for the pump.
	limits []rawLimit
}

// Find returns the pump with that name.
func (l *Library) Find(name string) (Pump, bool) {
	for _, p := range l.Pumps {
		if p.Name == name {
			return p, true
		}
	}
	return Pump{}, false
}
