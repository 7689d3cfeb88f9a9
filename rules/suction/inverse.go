package suction

// VapourPressureAtLimitPa returns the absolute vapour pressure in Pa at which a
// margin of marginM (m of water) is gone, all else as it is; vapourPa is the
// one now. The caller turns it into a water temperature by the saturation
// line. The density in kg/m3 is taken as it is now: warm water is lighter, by 2
// percent from cool to 60 C, which makes a head of water from the same pressure
// higher and so errs to the safe side. It is below 0 where even water without
// vapour leaves no margin. Source: AvailableM, solved for the vapour pressure.
func VapourPressureAtLimitPa(vapourPa, marginM, densityKgM3 float64) float64 {
	return vapourPa + float64(marginM*float64(densityKgM3*GravityMS2))
}

// GaugeAtLimitPa returns the inlet gauge pressure in Pa at which a margin of
// marginM (m of water) is gone, all else as it is; gaugePa is the one now and
// the density is in kg/m3. It is below a full vacuum where no pressure would
// take the margin. Source: AvailableM, solved for the gauge pressure.
func GaugeAtLimitPa(gaugePa, marginM, densityKgM3 float64) float64 {
	return gaugePa - float64(marginM*float64(densityKgM3*GravityMS2))
}
