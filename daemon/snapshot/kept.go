package snapshot

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"headroom/rules/alarm"
	"headroom/rules/engine"
)

// Kept is every alarm as it must survive a restart.
type Kept = [engine.NumAlarms]engine.Kept

// keptAlarm is one alarm by names that outlive a new version's numbers.
type keptAlarm struct {
	Alarm     string  `json:"alarm"`
	Phase     string  `json:"phase"`
	Active    bool    `json:"active,omitempty"`
	Level     uint8   `json:"level,omitempty"`
	Out       bool    `json:"out_of_service,omitempty"`
	Shelved   bool    `json:"shelved,omitempty"`
	ShelfLeft float64 `json:"shelf_left_s,omitempty"`
}

// EncodeKept writes alarms down as JSON; those that are normal are left out.
// The same text stands in the file that a restart begins with and, with the
// boot, in the record, so that a replay begins where the live engine began.
func EncodeKept(k *Kept) ([]byte, error) {
	list := []keptAlarm{}
	for i := range k {
		if k[i] == (engine.Kept{}) {
			continue
		}
		l := k[i].Life
		list = append(list, keptAlarm{
			Alarm: engine.AlarmID(i).String(), Phase: l.Base.String(), Active: k[i].Active, Level: uint8(k[i].Level),
			Out: l.Out, Shelved: l.Shelved, ShelfLeft: l.ShelfLeft.Seconds(),
		})
	}
	data, err := json.MarshalIndent(list, "", " ")
	if err != nil {
		return nil, fmt.Errorf("cannot write the alarms down: %w", err)
	}
	return append(data, '\n'), nil
}

// DecodeKept reads what EncodeKept wrote. Alarms and phases that this version
// doesn't know are left normal; text that is no such list is an error.
func DecodeKept(data []byte) (k Kept, err error) {
	var list []keptAlarm
	if err := json.Unmarshal(data, &list); err != nil {
		return k, fmt.Errorf("cannot read the alarms that were kept: %w", err)
	}
	for _, l := range list {
		id, ok := engine.AlarmByName(l.Alarm)
		phase, known := alarm.PhaseByName(l.Phase)
		if !ok || !known || !(l.ShelfLeft >= 0 && l.ShelfLeft <= alarm.MaxShelf.Seconds()) {
			continue
		}
		k[id] = engine.Kept{Active: l.Active, Level: engine.Level(l.Level), Life: alarm.Kept{
			Base: phase, Out: l.Out, Shelved: l.Shelved, ShelfLeft: time.Duration(math.Round(l.ShelfLeft * float64(time.Second))),
		}}
	}
	return k, nil
}
