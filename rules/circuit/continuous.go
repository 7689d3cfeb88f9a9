package circuit

// The figures of the rule for continuous loads.
const (
	// ContinuousS is the time in seconds from which a load counts as
	// continuous: "where the maximum current is expected to continue for 3
	// hours or more". Source: NFPA 70 (NEC) Article 100.
	ContinuousS = 3 * 3600.0
	// ContinuousShare is the share of a circuit's rating that a continuous load
	// may use, the inverse of the 125 % that conductors and overcurrent device
	// must have. Source: NFPA 70 (NEC) 210.19(A)(1), 210.20(A).
	ContinuousShare = 0.8
	// MaxRatingA bounds the circuit's rating in amperes.
	MaxRatingA = 1000.0
	// MaxCurrentA bounds a current in amperes.
	MaxCurrentA = 1e6
	// MaxStepS bounds a step in seconds: one day.
	MaxStepS = 86400.0
	// DefaultPauseS is how long in seconds a load must stay below the limit
	// before the three hours start anew. The code names no pause; common
	// practice, no source.
	DefaultPauseS = 300.0
)

// Share returns the current as a share of the circuit's rating, 1 at the
// rating. Range: currentA 0 to MaxCurrentA, ratingA 1 to MaxRatingA; ok=false
// otherwise.
func Share(currentA, ratingA float64) (float64, bool) {
	if !inRange(currentA, 0, MaxCurrentA) || !inRange(ratingA, 1, MaxRatingA) {
		return 0, false
	}
	return currentA / ratingA, true
}

// ContinuousLimitA returns the largest continuous load in amperes. fullyRated
// is true only for an assembly listed for 100 % of its rating (the exception
// to 210.20(A)). Range: ratingA 1 to MaxRatingA; ok=false otherwise.
// Source: NFPA 70 (NEC) 210.20(A). Local code decides.
func ContinuousLimitA(ratingA float64, fullyRated bool) (float64, bool) {
	if !inRange(ratingA, 1, MaxRatingA) {
		return 0, false
	}
	if fullyRated {
		return ratingA, true
	}
	return float64(ContinuousShare * ratingA), true
}

// Load says how the present load stands to the rule.
type Load uint8

// The loads.
const (
	// LoadUnknown: an input is out of range.
	LoadUnknown Load = iota
	// LoadWithin: at or below the limit for continuous loads.
	LoadWithin
	// LoadOver: above that limit, not yet for three hours.
	LoadOver
	// LoadContinuous: above that limit for three hours or more.
	LoadContinuous
	// LoadOverRating: above the rating itself, however long.
	LoadOverRating
)

// String returns the load as an identifier, not as text for the user.
func (l Load) String() string {
	switch l {
	case LoadWithin:
		return "within"
	case LoadOver:
		return "over"
	case LoadContinuous:
		return "continuous"
	case LoadOverRating:
		return "over-rating"
	}
	return "unknown"
}

// ContinuousConfig sets the tracker up.
type ContinuousConfig struct {
	// RatingA is the rating of the circuit's overcurrent device in amperes, 1
	// to MaxRatingA.
	RatingA float64
	// FullyRated is true only for an assembly listed for 100 %.
	FullyRated bool
	// PauseS is the pause in seconds that ends a load, 0 to MaxStepS;
	// DefaultPauseS is usual.
	PauseS float64
}

// ContinuousState is the tracker's memory; the zero value is no load yet.
type ContinuousState struct {
	// AboveS is for how long in seconds the load has been above the limit,
	// short pauses included. It stops counting at ContinuousS.
	AboveS float64
	// PausedS is for how long it has now been at or below.
	PausedS float64
}

// Step advances the tracker by dtS seconds at an RMS current of currentA
// amperes. Range: currentA 0 to MaxCurrentA, dtS 0 to MaxStepS. A current out
// of range gives LoadUnknown, and a load that had begun goes on counting, since
// nobody saw it end; a bad dtS or configuration leaves the memory as it was. It
// does not allocate.
// Source: NFPA 70 (NEC) Article 100, 210.20(A).
func (c ContinuousConfig) Step(s ContinuousState, currentA, dtS float64) (ContinuousState, Load) {
	limitA, ok := ContinuousLimitA(c.RatingA, c.FullyRated)
	if !ok || !inRange(c.PauseS, 0, MaxStepS) || !inRange(dtS, 0, MaxStepS) {
		return s, LoadUnknown
	}
	if !inRange(currentA, 0, MaxCurrentA) {
		if s.AboveS > 0 {
			s = s.goOn(dtS)
		}
		return s, LoadUnknown
	}
	if currentA <= limitA {
		return s.pause(dtS, c.PauseS), LoadWithin
	}
	s = s.goOn(dtS)
	switch {
	case currentA > c.RatingA:
		return s, LoadOverRating
	case s.AboveS >= ContinuousS:
		return s, LoadContinuous
	}
	return s, LoadOver
}

// LeftS returns the seconds until the load counts as continuous if it stays
// above the limit, 0 where it does so already. A memory that is no number
// counts as no time left.
func (s ContinuousState) LeftS() float64 {
	if !inRange(s.AboveS, 0, ContinuousS) {
		return 0
	}
	return ContinuousS - s.AboveS
}

// goOn counts the step and a short pause before it as load.
func (s ContinuousState) goOn(dtS float64) ContinuousState {
	return ContinuousState{AboveS: min(ContinuousS, s.AboveS+s.PausedS+dtS)}
}

// pause counts the step as pause and forgets the load when it was long enough.
func (s ContinuousState) pause(dtS, pauseS float64) ContinuousState {
	if s.AboveS == 0 {
		return ContinuousState{}
	}
	s.PausedS += dtS
	if s.PausedS > pauseS {
		return ContinuousState{}
	}
	return s
}

// inRange reports lo <= x <= hi; NaN is never in range.
func inRange(x, lo, hi float64) bool { return x >= lo && x <= hi }
