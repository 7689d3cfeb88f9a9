// Package switches reads on/off inputs on GPIO lines: machine running, trigger
// or foot pedal, supply present. It owns polarity, the debounce it asks the
// kernel for, and the notice of a contact that chatters. It refuses to take a
// level from the edges: after each edge, and at a steady pace, it reads the
// level itself, so that a lost edge can't leave a switch standing wrong.
//
// Wiring: a contact to ground with PullUp and ActiveLow is the usual way; a
// broken wire then reads as inactive. A supply is watched through an
// optocoupler module with a smoothed output: without it the line would follow
// the mains' half waves and the input would be called chattering.
package switches
