// Package pulse turns the pulses of a turbine, paddle-wheel or gear meter, or
// of a speed pick-up, into a flow or a shaft speed. It owns the reckoning from
// edges to a rate, the meter's K-factor table, and the honest account of what
// went wrong on the way: pulses the kernel dropped (known by the gap in the
// line's sequence number, and added), edges that came impossibly soon (bounce
// or interference, and left out), and a rate that must fall because no pulse
// comes. It refuses to guess: it never holds an old rate while no pulse comes
// and never extrapolates a calibration table.
//
// The rate is reciprocal counting: whole periods between two edges, divided by
// the time between the kernel's stamps of just these edges. With many pulses
// in the window that is a count over a window without the error of one count;
// with few it is the length of the last period; there is no seam between the
// two. A wire that is off looks like no flow: only the other channels can tell
// (no flow while the pump runs), and the rules do.
//
// Wiring: most meters have an open collector, so pull up (Bias), use a shielded
// cable, and ask for a debounce well below half the shortest period.
package pulse
