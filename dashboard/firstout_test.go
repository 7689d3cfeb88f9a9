package dashboard

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// The first of a burst is number 1 with all readings of its moment, the later
// ones are 2 to n. Source: the project's list of requirements, after ISA-18.2.
func TestFirstOutIsNumberedWithItsReadings(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	m.set(frame.InletPressure, 60e3)
	m.feed(time.Second)
	m.set(frame.InletPressure, 10e3)
	m.set(frame.Flow, 6e-3/60)
	m.feed(2 * time.Second)
	s := newServer(m.options(), m.store)
	rows := s.alarmRows(m.store.Latest(), units.SI)
	all := map[string]alarmRow{}
	for _, r := range rows {
		all[r.Name] = r
		for _, u := range r.Under {
			all[u.Name] = u
		}
	}
	first := all["inlet_low.warn"]
	require.Contains(t, first.First, "1st: came first, at 14:05:0")
	require.Empty(t, first.Later)
	require.Contains(t, first.Moment, momentRow{"Inlet pressure", "60 kPa"}, "as it read then, not as it reads now")
	require.Contains(t, first.Moment, momentRow{"Motor current", "14.0 A"})
	require.Len(t, first.Moment, 6, "every fitted channel")
	require.Equal(t, "2nd, 1.0 s later", all["inlet_low.act"].Later)
	require.Empty(t, all["inlet_low.act"].Moment)
	require.Regexp(t, `^3rd, 1\.\d s later$`, all["flow_short.warn"].Later)

	page := text(t, get(t, s.handler(), "/"))
	require.Contains(t, page, "Readings at that moment")
	require.Contains(t, page, "<dt>Inlet pressure</dt> <dd>60 kPa</dd>")
	require.Contains(t, text(t, get(t, s.handler(), "/alarms/inlet_low.warn?units=US")), "<dd>8.7 psi</dd>")
}

// What could not be trusted at that moment has its status and no figure, and an
// alarm that isn't the first, or came before the start, has no readings.
func TestReadingsOfAMoment(t *testing.T) {
	var at [frame.NumChannels]frame.Sample
	for c := range at {
		at[c].Status = frame.NotFitted
	}
	at[frame.Flow] = frame.Sample{Value: 12, Status: frame.Stuck}
	require.Equal(t, []momentRow{{"Flow", "-- (" + frame.Stuck.Words() + ")"}}, momentRows(&at, units.SI))
	require.Nil(t, momentRows(nil, units.SI))
	sc := starving()
	require.Nil(t, momentOf(sc.events, engine.ActAlarm(engine.InletLow), units.SI), "it came second")
	require.NotNil(t, momentOf(sc.events, engine.WarnAlarm(engine.InletLow), units.SI))
	require.Nil(t, momentOf(nil, engine.WarnAlarm(engine.InletLow), units.SI))
}

func TestOrdinals(t *testing.T) {
	for n, want := range map[int]string{2: "2nd", 3: "3rd", 4: "4th", 11: "11th", 12: "12th", 13: "13th", 21: "21st", 22: "22nd", 103: "103rd", 111: "111th"} {
		require.Equal(t, want, ordinal(n))
	}
}
