// Package motor judges the jetter's motor by its current: how much of its
// thermal capacity is used up, whether a start is a start or a jam, and
// whether the nameplate is believable.
//
// It owns the thermal model of IEC 60255-149, the trip classes of
// IEC 60947-4-1 as time constants, a small state machine that tells inrush
// from a locked rotor, and two tables of NFPA 70 (the NEC): locked-rotor code
// letters and single-phase full-load currents. It refuses the motor's real
// temperature, which no current tells (a blocked fan or a hot day heat a motor
// at its rated current too), the protector built into the motor, and any order
// to stop: it is an aid beside the protection that the code asks for.
package motor
