package dashboard

import (
	"headroom/daemon/snapshot"
)

// systemRow is an alarm about the program itself. Nobody acknowledges it: it
// stands while its condition does.
type systemRow struct {
	Name, Tone, Level, Title, Status, Action, Consequence, When string
}

func systemRows(snap *snapshot.Snapshot) (out []systemRow) {
	for _, a := range snap.Health.System {
		t := a.ID.Text()
		out = append(out, systemRow{
			Name: a.ID.String(), Tone: tone(a.Level), Level: a.Level.Words(), Title: t.Title, Status: a.Status, Action: t.Action,
			Consequence: t.Consequence, When: "for " + lasting((snap.Mono - a.Since).Seconds()),
		})
	}
	return out
}

// systemObjects are the same for programs.
func systemObjects(snap *snapshot.Snapshot) []object {
	out := []object{}
	for _, a := range snap.Health.System {
		t := a.ID.Text()
		out = append(out, object{
			"alarm": a.ID.String(), "level": a.Level.String(), "title": t.Title, "status": a.Status, "action": t.Action,
			"consequence": t.Consequence, "since_seconds": (snap.Mono - a.Since).Seconds(),
		})
	}
	return out
}
