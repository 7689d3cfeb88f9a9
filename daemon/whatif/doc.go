// Package whatif answers "what if the limits, the hose or the program had been
// others": it runs the stored frames of a run through the engine twice, under
// the configuration in force then and under another one, and sets the alarms
// side by side. With the same configuration there is no difference, to the last
// bit.
//
// It owns the pairing of alarms and the words for what differs, and the change
// of single settings in a configuration's text. It refuses to guess what people
// or the water would have done: the frames stay those of then, so another hose
// changes what the rules work out from the readings and not the readings
// themselves, and the answer says so. It writes nothing.
package whatif
