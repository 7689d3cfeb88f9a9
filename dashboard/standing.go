package dashboard

import (
	"fmt"
	"net/http"

	"headroom/rules/units"
)

// standingPath gives the line alone, for the script that renews it.
const standingPath = "/standing"

// standingView is the line about alarms that every page but the live one bears
// below its head: what stands, or waits for a person, and the way there.
type standingView struct {
	Tone, Word, Title, More string
	// Calls is true while nobody acknowledged it, Call how loud it calls.
	Calls bool
	Call  string
}

// standing is the line for whoever asks; nil where nothing stands, and for who
// may not read.
func (s *server) standing(r *http.Request) *standingView {
	snap := s.feed.Latest()
	if snap == nil || s.opt.ReadNeedsPIN && s.opt.Gate != nil && !s.opt.Gate.Knows(tokenOf(r)) {
		return nil
	}
	if s.age(snap) > oldAfter {
		return &standingView{Tone: "unknown", Word: "Readings are old", Title: "Whether an alarm stands isn't known. Look at the machine."}
	}
	v := view{Alarms: s.alarmRows(snap, units.SI)}
	v.call(snap)
	if !waits(v.Alarms) {
		return nil
	}
	top := &v.Alarms[0]
	out := &standingView{Tone: top.Tone, Word: top.Level, Title: top.Title, Calls: top.Calls, Call: v.CallLevel}
	if !top.active {
		out.Tone, out.Word = "watch", overWord(top)
	}
	more := 0
	for i := range v.Alarms[1:] {
		if !v.Alarms[1+i].aside {
			more++
		}
	}
	if more > 0 {
		out.More = fmt.Sprintf("and %d more", more)
	}
	return out
}

func (s *server) standingLine(w http.ResponseWriter, r *http.Request) {
	s.write(w, r, "standing", s.standing(r))
}
