// Package circuit is about the electric circuit that the jetter borrows: the
// true RMS current in it, the share of its rating, and the rule that a load of
// three hours or more may use 80 % of it only.
//
// It owns the arithmetic on one block of current samples and the tracker that
// tells when a load has become continuous. Its subpackages own the rest of the
// electric side: breaker (thermal memory of the overcurrent device), motor
// (overload and start), cord (voltage lost on the way) and unloader (pressure
// against current). It refuses three-phase circuits, ground faults and every
// judgment of the building's wiring. NFPA 70 (the NEC) is quoted because it is
// the code most of its users work under; local code decides, and the software
// is an aid beside a licensed electrician and no protection device.
package circuit
