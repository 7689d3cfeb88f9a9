// Package calibrate corrects a channel's reading by what was found against a
// reference: nothing, an offset, two points or a table. It owns a calibration
// as plain data (with its date, who made it, with what, and until when it
// holds), the file store that keeps every one ever made, the test that a
// reading is steady, and the dialogue that takes a person through it, as a
// pure state machine that a terminal and a page can both drive.
//
// It refuses to extrapolate further than the calibration states, to take a
// point from a reading that moves, to hide that a calibration is old, and to
// write over a damaged file. A correction can't make a bad sensor good: a
// calibration that is far from the sensor's own scale is pointed out at the
// review. It doesn't read a sensor and shows nothing: drivers and pages do.
package calibrate
