package cavitation

// Cause is the likeliest cause of what the signs say. Each asks for another
// action.
type Cause uint8

// The causes.
const (
	// NoCause goes with the grades None and CannotJudge.
	NoCause Cause = iota
	// Undetermined means that something speaks and fits no cause, or that what
	// would tell the causes apart is not known.
	Undetermined
	// Starvation means that the supply gives too little: low inlet pressure,
	// and less flow or no margin even for cool water.
	Starvation
	// AirIngestion means that air comes in: enough pressure and margin, and
	// yet pulsation with erratic flow, or with lost flow and an unsteady or
	// falling current.
	AirIngestion
	// HotWater means that the water's vapour pressure has eaten the margin, or
	// soon will: the same pressures would do for cool water.
	HotWater
	// WornPump means that flow slips back inside the pump: a steady deficit at
	// good pressure and margin, and nothing hammers.
	WornPump
)

// String returns the cause in plain words.
func (c Cause) String() string {
	switch c {
	case Undetermined:
		return "undetermined"
	case Starvation:
		return "starved supply"
	case AirIngestion:
		return "air in the inlet"
	case HotWater:
		return "water too warm"
	case WornPump:
		return "worn pump"
	}
	return "none"
}

// facts are the yes-or-no questions that tell the causes apart.
type facts struct {
	inletLow, inletFine     bool
	marginShort, marginFine bool
	warm                    bool
	coolFine, coolKnown     bool
	flowLow, flowErratic    bool
	flowSteady              bool
	pulses, pulsesNot       bool
	currentOdd              bool
	currentErratic          bool
	shakes                  bool
}

// factsOf reads the questions off the findings.
func (r *Rules) factsOf(in *Inputs, v *Verdict) facts {
	speaks := func(i Item) bool { return v.Findings[i].State == Speaks }
	silent := func(i Item) bool { return v.Findings[i].State == Silent }
	low, high := NPSHMargin.bounds()
	inlet := in.InletGaugePa.Known && between(in.InletGaugePa.Value, -1.2e5, 1e8)
	cool := in.CoolMarginM.Known && between(in.CoolMarginM.Value, low, high)
	return facts{
		inletLow:       inlet && in.InletGaugePa.Value <= r.config.InletLowGaugePa,
		inletFine:      inlet && in.InletGaugePa.Value > r.config.InletLowGaugePa,
		marginShort:    speaks(NPSHMargin),
		warm:           speaks(TempHeadroom),
		marginFine:     silent(NPSHMargin) || v.Findings[NPSHMargin].State == Undecided,
		coolKnown:      cool,
		coolFine:       cool && in.CoolMarginM.Value >= r.config.CoolMarginM,
		flowLow:        speaks(FlowDeficit),
		flowErratic:    speaks(FlowSwing),
		flowSteady:     silent(FlowSwing),
		pulses:         speaks(PulsationRise) || speaks(PulsationDepth),
		pulsesNot:      (silent(PulsationRise) || silent(PulsationDepth)) && !speaks(PulsationRise) && !speaks(PulsationDepth),
		currentOdd:     speaks(CurrentDrop) || speaks(CurrentSwing),
		currentErratic: speaks(CurrentSwing),
		shakes:         speaks(VibrationRise),
	}
}

// cause names the likeliest cause. The four have no case in common: the inlet
// pressure parts starvation from the rest, margin and temperature part warm
// water from the last two, and the pulsation parts those.
func (r *Rules) cause(in *Inputs, v *Verdict) Cause {
	if v.Grade < Possible {
		return NoCause
	}
	f := r.factsOf(in, v)
	sound := f.inletFine && f.marginFine && !f.warm
	switch {
	case f.inletFine && (f.marginShort || f.warm) && f.coolFine:
		return HotWater
	case f.inletLow && (f.flowLow || f.marginShort && f.coolKnown && !f.coolFine):
		return Starvation
	case sound && f.pulses && (f.flowErratic || f.flowLow && f.currentOdd):
		return AirIngestion
	case sound && f.flowLow && f.flowSteady && f.pulsesNot && !f.shakes && !f.currentErratic:
		return WornPump
	}
	return Undetermined
}
