package cavitation

// level is what a sign or a class of signs says.
type level uint8

const (
	quiet level = iota
	speaking
	strong
)

// levelOf reads the level off a strength.
func levelOf(strength float64) level {
	switch {
	case strength >= 1:
		return strong
	case strength >= 0.5:
		return speaking
	}
	return quiet
}

// class groups the signs that tell of the same thing.
type class uint8

const (
	conditions class = iota
	effects
	noises
	numClasses
)

// instrument groups the signs that one sensor gives.
type instrument uint8

const (
	inletSensor instrument = iota
	flowMeter
	currentSensor
	vibrationSensor
)

// of returns the class and the instrument of a sign. The inlet pressure sensor
// gives signs of two classes, which is why the grade Severe asks for the
// effects, that it cannot give.
func of(i Item) (class, instrument) {
	switch i {
	case FlowDeficit, FlowSwing:
		return effects, flowMeter
	case CurrentDrop, CurrentSwing:
		return effects, currentSensor
	case PulsationRise, PulsationDepth:
		return noises, inletSensor
	case VibrationRise:
		return noises, vibrationSensor
	}
	return conditions, inletSensor
}

// levels gathers the signs by class. The order in which they are added does
// not matter.
type levels struct {
	class [numClasses]level
	known [numClasses]bool
	// heard has a bit for each instrument of the effects and the noises that
	// speaks.
	heard uint8
}

// allHeard are the flow meter, the current, the pulsation and the vibration.
const allHeard = 1<<inletSensor | 1<<flowMeter | 1<<currentSensor | 1<<vibrationSensor

// add takes in one sign at a level. A sign without a reading adds nothing, and
// an undecided one adds its level without making its class known.
func (l *levels) add(i Item, state State, at level) {
	if state == NotFitted || state == NoReading {
		return
	}
	c, from := of(i)
	if state != Undecided {
		l.known[c] = true
	}
	l.class[c] = max(l.class[c], at)
	if at != quiet && c != conditions {
		l.heard |= 1 << from
	}
}

// grade applies the rules:
//   - Severe: all three classes speak and two of them strongly; or effects and
//     noises both speak strongly and all four instruments that give them speak.
//   - Likely: two classes speak, one of them strongly; or all three speak; or
//     the conditions alone speak strongly, since water that has lost its head
//     boils whether it is heard or not.
//   - Possible: anything speaks.
//   - None: nothing speaks and two classes are known.
//
// A flow meter and a current that agree give no more than Possible: less water
// is pumped, by wear or a slipping drive as well as by cavitation. Each rule
// only ever asks for levels to be reached, so that more evidence never lowers
// the grade.
func (l *levels) grade() Grade {
	heard, strongly, known := 0, 0, 0
	for c := range numClasses {
		if l.class[c] >= speaking {
			heard++
		}
		if l.class[c] == strong {
			strongly++
		}
		if l.known[c] {
			known++
		}
	}
	loud := l.class[effects] == strong && l.class[noises] == strong && l.heard == allHeard
	switch {
	case loud || heard == 3 && strongly >= 2:
		return Severe
	case heard == 3, heard == 2 && strongly >= 1, l.class[conditions] == strong:
		return Likely
	case heard > 0:
		return Possible
	case known >= 2:
		return None
	}
	return CannotJudge
}
