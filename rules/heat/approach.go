package heat

// ApproachStatus says what a loop does with a temperature limit.
type ApproachStatus uint8

// The statuses of an approach.
const (
	// ApproachUnknown: an input is missing or out of range.
	ApproachUnknown ApproachStatus = iota
	// ApproachHeating: the limit will be reached, see Seconds.
	ApproachHeating
	// ApproachReached: the temperature is at the limit or above it now.
	ApproachReached
	// ApproachNever: fresh supply holds the loop below the limit, or there is
	// no power, or it takes longer than MaxHorizonS.
	ApproachNever
)

// String returns the status as one word in lower case.
func (s ApproachStatus) String() string {
	switch s {
	case ApproachHeating:
		return "heating"
	case ApproachReached:
		return "reached"
	case ApproachNever:
		return "never"
	}
	return "unknown"
}

// Approach is the way of a loop to its limit.
type Approach struct {
	Status ApproachStatus
	// Seconds until the limit is reached; only with ApproachHeating, else 0.
	Seconds float64
	// RateKs and RateKMin are the rate now, in K/s and in K/min; 0 with
	// ApproachUnknown, negative where the loop cools.
	RateKs, RateKMin float64
}

// Approach tells when a loop now at tempK reaches limitK, both in kelvin from
// 200 to 500. Closed: t = C (Tl - T)/P. With exchange it is the time of a
// first-order approach to the equilibrium Te, t = tau ln((Te - T)/(Te - Tl)),
// which is written here so that a vanishing exchange gives the closed form and
// not a difference of large numbers.
// Source: solution of the balance of RateKs.
func (l Loop) Approach(tempK, limitK float64) Approach {
	rate, ok := l.RateKs(tempK)
	if !ok || !isTemp(limitK) {
		return Approach{}
	}
	a := Approach{Status: ApproachNever, RateKs: rate, RateKMin: 60 * rate}
	if tempK >= limitK {
		a.Status = ApproachReached
		return a
	}
	gap, net := limitK-tempK, l.net(limitK)
	if net <= 0 {
		return a
	}
	straight := l.capacity() * gap / net
	if t := straight * logRatio(l.conductance()*gap/net); t <= MaxHorizonS {
		a.Status, a.Seconds = ApproachHeating, t
	}
	return a
}
