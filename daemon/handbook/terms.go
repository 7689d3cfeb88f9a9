package handbook

import (
	"headroom/dashboard"
	"headroom/rules/alarm"
	"headroom/rules/engine"
)

// meanings explain the phases. Source of the phases: ANSI/ISA-18.2 and
// IEC 62682, see package alarm.
var meanings = [alarm.NumPhases]string{
	alarm.Unacknowledged:        "It is so now, and nobody has said \"I know\". Whatever nobody has acknowledged flashes and sounds, and nothing else.",
	alarm.Acknowledged:          "It is so now, and somebody knows. Acknowledging neither ends nor hides it.",
	alarm.Returned:              "It is over, but nobody has acknowledged it: find out why it came.",
	alarm.LatchedUnacknowledged: "It is over, and stays here until somebody acknowledges and then resets it.",
	alarm.LatchedAcknowledged:   "It is over and known, and waits for its reset.",
	alarm.Shelved:               "A person has put it aside for a time; it comes back by itself, and at the next start of the program.",
	alarm.Suppressed:            "It follows from another alarm that stands, or is the first stage of it. Look at that one.",
	alarm.OutOfService:          "A person has taken it out until somebody puts it back. It warns of nothing.",
}

func phases() []dashboard.HandbookTerm {
	var out []dashboard.HandbookTerm
	for p := alarm.Normal + 1; p < alarm.NumPhases; p++ {
		out = append(out, dashboard.HandbookTerm{Word: p.Words(), Meaning: meanings[p]})
	}
	return out
}

func levels() []dashboard.HandbookTerm {
	return []dashboard.HandbookTerm{
		{Word: engine.Act.Words(), Meaning: "Do it at once: damage or danger within seconds to minutes."},
		{Word: engine.Warning.Words(), Meaning: "There is time left; use it."},
		{Word: engine.Advice.Words(), Meaning: "Look at it when you can."},
	}
}
