package hardware

// keptPresses is how many presses are remembered: far more than two people do
// within the seconds that a word can be under way.
const keptPresses = 32

// presses are the last times that a person pressed a button and let go. A page
// sends "hold" again and again without waiting, so that on a slow link one of
// them may come after the "release" of the same press: it must not drive the
// output again.
type presses struct {
	last [keptPresses]press
	next int
}

// press is one press of one output's button, by the page's own name for it.
type press struct {
	output, name string
	over         bool
}

// of returns the press with that name, which is noted when it is new.
func (p *presses) of(output, name string) (one *press, isNew bool) {
	for i := range p.last {
		if q := &p.last[i]; q.name != "" && q.output == output && q.name == name {
			return q, false
		}
	}
	one = &p.last[p.next]
	*one = press{output: output, name: name}
	p.next = (p.next + 1) % keptPresses
	return one, true
}

// holds notes that a press goes on. late is true for one that is over; began is
// true for the first word of a press. A press without a name, by a form without
// a script, is always a new one.
func (p *presses) holds(output, name string) (began, late bool) {
	if name == "" {
		return true, false
	}
	one, isNew := p.of(output, name)
	return isNew && !one.over, one.over
}

// release notes that a press is over, also where its first word is still under
// way.
func (p *presses) release(output, name string) {
	if name != "" {
		one, _ := p.of(output, name)
		one.over = true
	}
}
