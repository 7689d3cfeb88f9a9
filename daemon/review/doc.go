// Package review tells what happened in a run, in words, for somebody who was
// not there. From the record it makes a typed account: sentences in the order of
// time, each with the evidence it rests on (the samples of a channel in a span,
// an alarm, a person's act, a sum of the run), and beside them what the record
// can not tell. The same record gives the same account.
//
// It owns the choice of what is worth telling, the search for what changed
// around an alarm (see change.go) and the wording. It refuses to judge anew:
// alarms are those of then, and what it adds are figures that Verify recomputes
// from the frames. It blames nobody, knows no cause that no reading shows, and
// writes nothing. Values are SI until they are put into words.
package review
