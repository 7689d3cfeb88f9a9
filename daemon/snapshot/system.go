package snapshot

import (
	"time"

	"headroom/rules/engine"
)

// SystemAlarm is an alarm about the program itself and not about the machine,
// such as a record that can't be written. The engine knows no disk, so the
// daemon raises these; pages, metrics and programs read them here and show the
// same words. It stands while its condition does: nobody acknowledges it.
type SystemAlarm struct {
	// ID never changes: what it is.
	ID SystemID
	// Level says how much it matters, as an alarm of the engine.
	Level engine.Level
	// Status says in words what is wrong now, with the error where there is
	// one.
	Status string
	// Since is the tick's time at which it came.
	Since time.Duration
}

// SystemID is one kind of system alarm.
type SystemID uint8

// The system alarms.
const (
	// RecordFailing: nothing is recorded now.
	RecordFailing SystemID = iota
	// RecordLosing: frames were lost lately, or the medium hangs.
	RecordLosing
	// RecordHalf: one of the two files of the record fails, the other holds.
	RecordHalf
	// RecordDamaged: a part of the record was found damaged.
	RecordDamaged
	// RecordSpace: the medium is nearly full.
	RecordSpace
	// RecordVolatile: the folder is lost at power off.
	RecordVolatile

	// NumSystemIDs is the number of system alarms.
	NumSystemIDs
)

// SystemText is what a system alarm says whenever it stands.
type SystemText struct {
	// Title in a few words, Consequence of leaving it, Action to take.
	Title, Consequence, Action string
}

var systemNames = [NumSystemIDs]string{
	"record.failing", "record.losing", "record.half", "record.damaged", "record.space", "record.volatile",
}

var systemTexts = [NumSystemIDs]SystemText{
	RecordFailing: {
		"Nothing is recorded", "What happens now can't be shown later, and a restart forgets the alarms' state and the service book's new hours. The watching goes on.",
		"Where the disk is full, free space; where the program may not write, give it the folder or name another with -record; where the medium fails, replace the card. Recording then goes on by itself.",
	},
	RecordLosing: {
		"The record has gaps", "The medium is too slow, and seconds of the record are missing. The watching goes on.",
		"Check and replace the card; worn cards get slow first.",
	},
	RecordHalf: {
		"The record hangs on one file", "Nothing is lost yet. If the other file fails too, recording stops.",
		"Free space on the medium, or check and replace the card.",
	},
	RecordDamaged: {
		"A part of the record is damaged", "What is whole is still there; what is lost is named with its time.",
		"Save the record elsewhere, then check and replace the card. “headroom record verify” names what is lost.",
	},
	RecordSpace: {
		"The medium is nearly full", "Soon nothing will be recorded, and settings can't be saved.",
		"Free space, or lower record.keep in the config.",
	},
	RecordVolatile: {
		"Settings and record are lost at power off", "The folder of the record lies in memory, or in a layer that is thrown away.",
		"Name a folder on a partition of its own with record.folder or -record.",
	},
}

// String returns the alarm's name as it stands in metrics and for programs.
func (id SystemID) String() string {
	if id >= NumSystemIDs {
		return "unknown_system_alarm"
	}
	return systemNames[id]
}

// Text returns the alarm's words.
func (id SystemID) Text() SystemText {
	if id >= NumSystemIDs {
		return SystemText{Title: "Unknown trouble of the program"}
	}
	return systemTexts[id]
}
