// Package unloader tells how far to turn the unloader down so that the motor's
// current comes under a limit, and how much cleaning power that costs.
//
// It owns two ways from pressure to current: a straight line from the no-load
// current through the present reading, and the split into active and reactive
// current where the overall efficiency was measured. It owns the nozzle law,
// by which flow goes with the square root of the pressure and power with its
// 1.5th power. It refuses to advise outside of what was measured: raising the
// pressure, a limit at or below the no-load current, readings that contradict
// each other, and a pressure below a tenth of the present one. Engine-driven
// pumps and unloaders that dump to no pressure are not its matter.
package unloader
