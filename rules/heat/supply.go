package heat

// DefaultSupplyLimitK is the highest supply temperature pumps of this kind are
// commonly run at, 60 C or 140 F. Common practice, no source; the pump's own
// plate decides.
const DefaultSupplyLimitK = 333.15

// SupplyStatus grades a supply temperature against its limit.
type SupplyStatus uint8

// The statuses of a supply temperature.
const (
	// SupplyUnknown: an input is missing or out of range.
	SupplyUnknown SupplyStatus = iota
	// SupplyOK: more than the band below the limit.
	SupplyOK
	// SupplyNear: within the band below the limit.
	SupplyNear
	// SupplyOver: at the limit or above it.
	SupplyOver
)

// String returns the status as one word in lower case.
func (s SupplyStatus) String() string {
	switch s {
	case SupplyOK:
		return "ok"
	case SupplyNear:
		return "near"
	case SupplyOver:
		return "over"
	}
	return "unknown"
}

// Supply is the headroom of a supply temperature.
type Supply struct {
	Status SupplyStatus
	// HeadroomK is the limit less the temperature, in kelvin; negative above
	// the limit, 0 with SupplyUnknown.
	HeadroomK float64
}

// SupplyHeadroom grades tempK against limitK, both in kelvin from 200 to 500,
// with a band in kelvin from 0 to 300 below the limit that counts as near.
// Source: none needed; a difference.
func SupplyHeadroom(tempK, limitK, bandK float64) Supply {
	if !isTemp(tempK) || !isTemp(limitK) || !within(bandK, 0, maxTempK-minTempK) {
		return Supply{}
	}
	s := Supply{Status: SupplyOK, HeadroomK: limitK - tempK}
	switch {
	case s.HeadroomK <= 0:
		s.Status = SupplyOver
	case s.HeadroomK <= bandK:
		s.Status = SupplyNear
	}
	return s
}
