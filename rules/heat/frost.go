package heat

// FreezeK is the freezing point of water at ordinary pressures, in kelvin.
const FreezeK = 273.15

// FrostStatus grades the danger that water freezes inside a pump.
type FrostStatus uint8

// The statuses of frost, from the least to the worst after unknown.
const (
	// FrostUnknown: neither water nor ambient temperature is known.
	FrostUnknown FrostStatus = iota
	// FrostNone: no danger in sight, or the pump is said to be drained or
	// filled with antifreeze.
	FrostNone
	// FrostWatch: near freezing, or it freezes if it stands long enough.
	FrostWatch
	// FrostRisk: it may freeze soon: drain it or run antifreeze through now.
	FrostRisk
	// FrostFreezing: at the freezing point or below: there may be ice in it.
	// Thaw it before turning it; ice in the head breaks it.
	FrostFreezing
)

// String returns the status as one word in lower case.
func (s FrostStatus) String() string {
	switch s {
	case FrostNone:
		return "none"
	case FrostWatch:
		return "watch"
	case FrostRisk:
		return "risk"
	case FrostFreezing:
		return "freezing"
	}
	return "unknown"
}

// FrostLimits are the settings of the frost rule.
type FrostLimits struct {
	// WatchK and RiskK are the water temperatures in kelvin at or below which
	// to watch and to act; FreezeK < RiskK <= WatchK <= 300.
	WatchK, RiskK float64
	// RiskS is the cooling time to FreezeK in seconds at or below which to
	// act, 0 to MaxHorizonS.
	RiskS float64
	// TauS is the time constant of the standing pump in seconds, 1 to
	// MaxHorizonS: its heat capacity over its conductance to the air.
	TauS float64
}

// DefaultFrostLimits are 4 C to watch, 2 C or half an hour to act, and a time
// constant of one hour: some 4 kJ/K of head and water losing 1.1 W per kelvin.
// Common practice and an estimate, no source; wind shortens it a lot.
func DefaultFrostLimits() FrostLimits {
	return FrostLimits{WatchK: FreezeK + 4, RiskK: FreezeK + 2, RiskS: 1800, TauS: 3600}
}

// valid reports whether the limits are in order.
func (l FrostLimits) valid() bool {
	return l.RiskK > FreezeK && l.RiskK <= l.WatchK && l.WatchK <= 300 &&
		within(l.RiskS, 0, MaxHorizonS) && within(l.TauS, 1, MaxHorizonS)
}

// FrostState is what is known about the pump. A temperature counts as not
// known where its flag is false or its value isn't from 200 to 500 K.
type FrostState struct {
	// WaterK is the water's temperature in kelvin, AmbientK the air's.
	WaterK, AmbientK float64
	// WaterKnown and AmbientKnown say whether these are good readings.
	WaterKnown, AmbientKnown bool
	// Running: water moves, so that it doesn't freeze in place now.
	Running bool
	// Protected: the technician has said that the pump is drained or filled
	// with antifreeze since it last ran.
	Protected bool
}

// Frost is the verdict.
type Frost struct {
	Status FrostStatus
	// Seconds is the estimated time until the water reaches FreezeK, in
	// seconds, 0 if it is there; only with TimeKnown. The latent heat then
	// still delays solid ice, which is not counted.
	Seconds   float64
	TimeKnown bool
	// Protect asks for draining or antifreeze: with FrostRisk and
	// FrostFreezing.
	Protect bool
}

// Classify grades the danger of frost in a standing pump from its water's
// temperature, and from the air's by Newton's law of cooling. While running
// the worst is FrostWatch, so that the reminder comes before the stop. A sick
// limit gives FrostUnknown.
// Source: freezing point and Newton's law, any textbook; the thresholds are
// settings.
func (l FrostLimits) Classify(s FrostState) Frost {
	s.WaterKnown = s.WaterKnown && isTemp(s.WaterK)
	s.AmbientKnown = s.AmbientKnown && isTemp(s.AmbientK)
	if !l.valid() {
		return Frost{}
	}
	if s.Protected && !s.Running {
		return Frost{Status: FrostNone}
	}
	if !s.WaterKnown && !s.AmbientKnown {
		return Frost{}
	}
	f := l.timeToFreeze(s)
	f.Status = max(l.byWater(s), l.byAmbient(s, f))
	if s.Running {
		f.Status = min(f.Status, FrostWatch)
	}
	f.Protect = f.Status >= FrostRisk
	return f
}

// byWater grades what the water tells now.
func (l FrostLimits) byWater(s FrostState) FrostStatus {
	switch {
	case !s.WaterKnown:
		return FrostUnknown
	case s.WaterK <= FreezeK:
		return FrostFreezing
	case s.WaterK <= l.RiskK:
		return FrostRisk
	case s.WaterK <= l.WatchK:
		return FrostWatch
	}
	return FrostNone
}

// byAmbient grades what the air will do. Where the water isn't known, air
// below freezing is a risk already: how long it has worked isn't known either.
func (l FrostLimits) byAmbient(s FrostState, f Frost) FrostStatus {
	switch {
	case !s.AmbientKnown:
		return FrostUnknown
	case s.AmbientK < FreezeK && !s.WaterKnown:
		return FrostRisk
	case f.TimeKnown && f.Seconds <= l.RiskS:
		return FrostRisk
	case s.AmbientK < FreezeK:
		return FrostWatch
	case !s.WaterKnown && s.AmbientK <= l.WatchK:
		return FrostWatch
	}
	return FrostNone
}

// timeToFreeze fills the estimate where both temperatures are known and the
// air is below freezing. While running there is none.
func (l FrostLimits) timeToFreeze(s FrostState) (f Frost) {
	if s.Running || !s.WaterKnown || !s.AmbientKnown {
		return f
	}
	f.Seconds, f.TimeKnown = CoolingTimeS(s.WaterK, FreezeK, s.AmbientK, l.TauS)
	return f
}

// CoolingTimeS returns the time in seconds in which a body at tempK cools to
// targetK in surroundings at ambientK, all in kelvin from 200 to 500, with the
// time constant tauS in seconds (1 to MaxHorizonS). A body at the target or
// below gives 0. Where the surroundings aren't colder than the target it never
// gets there and ok is false, as beyond MaxHorizonS.
// Source: Newton's law of cooling, t = tau ln((T - Ta)/(Tt - Ta)).
func CoolingTimeS(tempK, targetK, ambientK, tauS float64) (s float64, ok bool) {
	if !isTemp(tempK) || !isTemp(targetK) || !isTemp(ambientK) || !within(tauS, 1, MaxHorizonS) {
		return 0, false
	}
	switch {
	case tempK <= targetK:
		return 0, true
	case ambientK >= targetK:
		return 0, false
	}
	x := (tempK - targetK) / (targetK - ambientK)
	s = tauS * x * logRatio(x)
	if s > MaxHorizonS {
		return 0, false
	}
	return s, true
}
