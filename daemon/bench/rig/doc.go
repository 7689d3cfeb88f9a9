// Package rig is a simulated test bench: the plant with a person at its valves
// who does what a session asks for, and sensors whose lasting errors are drawn
// from their stated classes, so that the truth behind every figure is known.
//
// It owns the conditions a pump can be in (new, worn, a belt that slips, the
// wrong nozzle), the person's way of setting a pressure, the errors and the
// noise of the sensors, and the true record of a test. It refuses to judge: the
// figures are made by package bench from what the sensors showed, and the true
// ones from what was so. Every pump here is invented.
package rig
