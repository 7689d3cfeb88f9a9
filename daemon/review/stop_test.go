package review

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/review/recordtest"
	"headroom/daemon/store"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// TestAStopNeedsAReadingOfStanding: what could not be told is neither a stop
// nor turning. Source: the definition of the sentence.
func TestAStopNeedsAReadingOfStanding(t *testing.T) {
	const s = time.Second
	on, off, dark := machine.Running, machine.Stopped, machine.Unknown
	for _, x := range []struct {
		name   string
		states []machine.State // each lasts for 10 s
		limit  time.Duration
		want   turned
	}{
		{"stopped", []machine.State{on, off}, time.Hour, turned{until: 10 * s, stood: true}},
		{"to the end", []machine.State{on, on}, time.Hour, turned{until: 20 * s}},
		{"lost for good", []machine.State{on, dark}, time.Hour, turned{until: 10 * s, unknown: true}},
		{"lost, then standing", []machine.State{on, dark, off}, time.Hour, turned{until: 10 * s, unknown: true}},
		{"lost for a while", []machine.State{on, dark, on, off}, time.Hour, turned{until: 30 * s, stood: true, dark: 10 * s}},
		{"lost after the limit", []machine.State{on, on, dark, on}, 15 * s, turned{until: 15 * s}},
		{"lost at the alarm", []machine.State{dark, on, off}, time.Hour, turned{until: 20 * s, stood: true, dark: 5 * s}},
	} {
		w := &walked{}
		for i, st := range x.states {
			w.states = append(w.states, stateSpan{state: st, from: time.Duration(i) * 10 * s, to: time.Duration(i+1) * 10 * s})
		}
		from := time.Duration(0)
		if x.states[0] == dark {
			from = 5 * s
		}
		require.Equal(t, x.want, w.turnsUntil(from, x.limit), x.name)
	}
}

// TestAMissingReadingIsNoStop: a job in which everything that tells turning is
// lost for a second after the alarm; the pump went on.
func TestAMissingReadingIsNoStop(t *testing.T) {
	dir := recordtest.Play(t, script{Scenario: "kinked_hose", Spoil: func(at time.Duration, f *frame.Frame) bool {
		if at > 100*time.Second && at < 101*time.Second {
			for c := range f.Samples {
				if f.Samples[c].Status != frame.NotFitted {
					f.Samples[c] = frame.Sample{Status: frame.Failed}
				}
			}
		}
		return true
	}})
	r, err := store.OpenReader(dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	a, err := Tell(ctx, r, RunID{Boot: 1, N: 1}, Options{})
	require.NoError(t, err)
	told := ""
	for i := range a.Sentences {
		if a.Sentences[i].Kind == KindRanOn {
			told += a.Sentences[i].Text(0)
		}
	}
	require.NotEmpty(t, told)
	require.NotContains(t, told, "stopped")
	require.True(t, strings.Contains(told, "no reading tells whether it turned") || strings.Contains(told, "the record can't tell"), told)
	differs, err := Verify(ctx, r, a)
	require.NoError(t, err)
	require.Empty(t, differs)
}
