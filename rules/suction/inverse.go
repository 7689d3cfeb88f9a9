package suction

// VapourPressureAtMarginPa returns the absolute vapour pressure in Pa at which
// the margin over NPSHR has shrunk to wantedM (0 for the margin gone), all else
// as it is. The caller turns it into a water temperature by the saturation
// line. The density is taken as it is now: warm water is lighter, by 2 percent
// from cool to 60 C, which makes a head of water from the same pressure higher
// and so errs to the safe side. Range: as FindMargin, wantedM 0 to 100; ok is
// false there and where no vapour pressure of 0 or more answers, because the
// margin is below wantedM for cold water already. Source: AvailableM, solved
// for the vapour pressure.
func VapourPressureAtMarginPa(in Inlet, line Line, r Required, wantedM float64) (vapourPa float64, ok bool) {
	needM, ok := neededM(line, r, wantedM)
	if !ok || !in.valid() {
		return 0, false
	}
	head := needM - movingM(in)
	pa := in.GaugePa + in.AirPa - float64(head*(in.DensityKgM3*GravityMS2))
	if !(pa >= 0) {
		return 0, false
	}
	return pa, true
}

// GaugeAtMarginPa returns the inlet gauge pressure in Pa at which the margin
// over NPSHR has shrunk to wantedM (0 for the margin gone), all else as it is;
// the gauge pressure in in is not used beyond its range. Range: as FindMargin,
// wantedM 0 to 100; ok is false there and where the answer lies below a full
// vacuum, so that no pressure would take the margin. Source: AvailableM,
// solved for the gauge pressure.
func GaugeAtMarginPa(in Inlet, line Line, r Required, wantedM float64) (gaugePa float64, ok bool) {
	needM, ok := neededM(line, r, wantedM)
	if !ok || !in.valid() {
		return 0, false
	}
	head := needM - movingM(in)
	pa := in.VapourPa - in.AirPa + float64(head*(in.DensityKgM3*GravityMS2))
	if !(pa >= -in.AirPa) {
		return 0, false
	}
	return pa, true
}

// neededM is the head that must be available for a margin of wantedM.
func neededM(line Line, r Required, wantedM float64) (headM float64, ok bool) {
	n, ok := needOf(line, r)
	if !ok || !between(wantedM, 0, maxNPSHRM) {
		return 0, false
	}
	return n.requiredM + n.acceleration.HeadM + wantedM, true
}
