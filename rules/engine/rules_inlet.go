package engine

import (
	"headroom/rules/frame"
	"headroom/rules/suction"
)

// inletPressure serves both inlet rules: too low starves the pump, too high
// bursts its seals.
func inletPressure(x *view, v *Verdict) {
	if !x.need(v, frame.InletPressure) {
		return
	}
	v.Value = x.smp[frame.InletPressure].Value
	v.use(TermInlet, v.Value)
}

// waterHot watches the seals' temperature limit.
func waterHot(x *view, v *Verdict) {
	if !x.need(v, frame.WaterTemp) {
		return
	}
	v.Value = x.smp[frame.WaterTemp].Value
	v.use(TermWaterTemp, v.Value)
}

// npshMargin is what is left of the net positive suction head over what the
// pump requires. Below 0 the water boils inside the pump: cavitation.
func npshMargin(x *view, v *Verdict) {
	d := x.d
	if !d.margin.ok(v) {
		return
	}
	v.Value = d.margin.v
	v.useMaybe(TermNPSHA, d.npshA.v, d.npshA.assumed)
	v.useMaybe(TermNPSHR, d.npshR.v, d.npshR.assumed)
	if d.pulse.v > 0 {
		v.useMaybe(TermPulse, d.pulse.v, d.pulse.assumed)
	}
	v.use(TermInlet, x.smp[frame.InletPressure].Value)
	v.use(TermWaterTemp, x.smp[frame.WaterTemp].Value)
	v.use(TermVapourPressure, d.vapour.v)
	v.useMaybe(TermAirPressure, d.air.v, d.air.assumed)
	v.use(TermInletAtLimit, suction.GaugeAtLimitPa(x.smp[frame.InletPressure].Value, d.margin.v, d.density.v))
	if d.tempHeadroom.judge == Watching {
		v.use(TermTempHeadroom, d.tempHeadroom.v)
	}
}

// tankLow watches the supply tank.
func tankLow(x *view, v *Verdict) {
	if !x.need(v, frame.TankLevel) {
		return
	}
	v.Value = x.smp[frame.TankLevel].Value
	v.use(TermTankLevel, v.Value)
}
