package suction

// MarginM returns the margin in m of water between what is available at the
// inlet and what the pump requires there, after the head that its pulse takes;
// below 0 the pump lacks head. All three in m; it is a number wherever they
// are. Source: Hydraulic Institute: for a reciprocating pump the acceleration
// head is taken from the available head, quoted from memory.
func MarginM(availableM, accelerationM, requiredM float64) float64 {
	return availableM - accelerationM - requiredM
}
