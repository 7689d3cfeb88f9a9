package plant

// Mode is a way in which the modelled machine is damaged.
type Mode uint8

// The modes.
const (
	DryRun Mode = iota
	Cavitation
	Overheat
	Winding
	Overpressure

	// NumModes is the number of modes.
	NumModes
)

var modeNames = [NumModes]string{"dry_run", "cavitation", "overheat", "winding", "overpressure"}

// String returns the mode's name.
func (m Mode) String() string {
	if m >= NumModes {
		return "unknown_mode"
	}
	return modeNames[m]
}

// How much of each the modelled machine bears. Common practice, no source,
// but for the winding; the figures are there so that the time between an alarm
// and a damage can be measured against something stated, not to predict a
// real pump's life.
const (
	// dryLimitS: packing without water burns within tens of seconds.
	dryLimitS = 30.0
	// cavitationLimitS: seconds of a half-empty cylinder; less vapour counts
	// in proportion.
	cavitationLimitS = 300.0
	// hotLimitKS and hotK: kelvin seconds over 60 C at the packing.
	hotLimitKS, hotK = 600.0, 333.15
	// windingLimitK: 155 C, thermal class 155 (F) of IEC 60085.
	windingLimitK = 428.15
	// pressureLimit times the rated outlet pressure.
	pressureLimit = 1.5
)

// Damage is what the machine has suffered.
type Damage struct {
	// Used is the share of what the machine bears, by mode: 1 is damage.
	Used [NumModes]float64
	// AtS is when Used reached 1, in seconds since the start; valid if Done.
	AtS  [NumModes]float64
	Done [NumModes]bool
}

// wear adds up one step's damage.
func (p *Plant) wear(s *State, dtS float64) {
	d := &s.Damage
	ideal := p.cfg.Pump.DisplacementM3 * s.PumpHz
	turning := s.SpeedHz > 0.1*p.cfg.Pump.RatedSpeedHz
	if turning && s.PumpM3s < 0.05*ideal {
		d.Used[DryRun] += dtS / dryLimitS
	}
	if turning {
		d.Used[Cavitation] += min((1-s.Filling)/0.5, 1) * dtS / cavitationLimitS
	}
	d.Used[Overheat] += max(s.InletK-hotK, 0) * dtS / hotLimitKS
	d.Used[Winding] = max(d.Used[Winding], (s.WindingK-iceK)/(windingLimitK-iceK))
	d.Used[Overpressure] = max(d.Used[Overpressure], s.OutletGaugePa/(pressureLimit*p.cfg.Pump.RatedOutletPa))
	for m := range NumModes {
		if !d.Done[m] && d.Used[m] >= 1 {
			d.Done[m], d.AtS[m] = true, s.TimeS+dtS
		}
	}
}
