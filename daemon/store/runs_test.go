package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/machine"
)

// TestRunsAreCutByThemselves: a job of two runs with a pause of the trigger in
// one of them, and a third that the power ends.
func TestRunsAreCutByThemselves(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{HoldOff: 20 * time.Second})
	r := newRig(t)
	r.runFor, r.standFor = 400, 100 // stands for 10 s: within the hold-off
	var ticks []*tick
	part := func(n int) {
		more := r.take(n)
		feed(t, s, r, more)
		ticks = append(ticks, more...)
	}
	part(850)
	on := s.Health()
	require.Equal(t, 1, on.Run, "which run goes on")
	r.runFor, r.standFor = 0, 1
	part(400) // 40 s: the run is over
	runs, err := s.ListRuns(ctx, 0)
	require.NoError(t, err)
	require.Len(t, runs, 1)
	first := runs[0]
	require.Equal(t, RunID{1, 1}, first.ID)
	require.Equal(t, endStopped, first.Ended)
	require.Equal(t, first.Start, on.RunBegan)
	require.Zero(t, s.Health().Run, "none between runs")
	r.runFor, r.standFor = 1, 0
	part(600)
	shared, err := s.Run(ctx, first.ID)
	require.NoError(t, err)
	begun := shared
	begun.From, begun.To, begun.Raised, begun.Incidents = first.From, first.To, first.Raised, first.Incidents
	require.Equal(t, first, begun, "a later run changes only what belongs to it")
	first = shared
	drop(t, s) // the power

	s = open(t, dir, Options{HoldOff: 20 * time.Second})
	runs, err = s.ListRuns(ctx, 0)
	require.NoError(t, err)
	require.Len(t, runs, 2)
	require.Equal(t, first, runs[1], "the power cut changes nothing of an earlier run")
	second := runs[0]
	require.Equal(t, endCut, second.Ended)
	require.EqualValues(t, 1, second.Summary.Sums.Starts, "the start that begins a run belongs to it")
	require.Equal(t, ticks[len(ticks)-1].t.Truncate(time.Second), second.End.Truncate(time.Second), "up to the last second")

	var turning, last time.Duration
	for _, k := range ticks {
		if k.v.Machine.Turning() && k.t <= first.End {
			if turning == 0 {
				turning = k.t
			}
			last = k.t
		}
	}
	require.Equal(t, turning, first.Start)
	require.Equal(t, last, first.End)
	require.WithinDuration(t, startWall.Add(first.Start), first.StartWall, 2*time.Millisecond)
	require.Equal(t, testInfo.ConfigHash, first.Config)
	one, err := s.Run(ctx, first.ID)
	require.NoError(t, err)
	require.Equal(t, first, one)
	one, err = s.Run(ctx, second.ID)
	require.NoError(t, err)
	require.Equal(t, second, one)
	limited, err := s.ListRuns(ctx, 1)
	require.NoError(t, err)
	require.Equal(t, runs[:1], limited)
	middle := first.End + (second.Start-first.End)/2
	require.Less(t, second.Start-first.End, LeadIn+LeadOut, "else there is nothing to share out")
	require.Equal(t, []time.Duration{1, middle, middle + 1, second.End + LeadOut}, []time.Duration{first.From, first.To, second.From, second.To})
	checkSummary(t, &first, ticks, middle)
	frames := 0
	for k, err := range s.Frames(ctx, second.ID, 0, 0) {
		require.NoError(t, err)
		require.True(t, k.T >= second.Start && k.T <= second.End)
		frames++
	}
	require.Greater(t, frames, 550)
	require.NoError(t, s.Close())
}

// checkSummary works out what the summary of a boot's first run must say from
// the verdicts; its alarms are those up to until.
func checkSummary(t *testing.T, run *Run, ticks []*tick, until time.Duration) {
	worst := map[string]float64{}
	raised, incidents, firstOut := 0, 0, ""
	for _, k := range ticks {
		for _, tr := range k.v.Transitions() {
			if !tr.Raised || k.t > until {
				continue
			}
			if raised++; firstOut == "" {
				firstOut = tr.Alarm.String()
			}
			if tr.Level >= engine.Warning {
				incidents++
			}
		}
		if k.t < run.Start || k.t > run.End {
			continue
		}
		for i := range k.v.Rules {
			v := &k.v.Rules[i]
			name := v.Rule.String()
			if w, ok := worst[name]; v.Judge == engine.Watching && k.v.Machine.Turning() && (!ok || v.Share < w) {
				worst[name] = v.Share
			}
		}
	}
	require.NotEmpty(t, worst)
	require.Len(t, run.Summary.Worst, len(worst))
	for name, share := range worst {
		require.InDelta(t, share, run.Summary.Worst[name].Share, 0, name)
	}
	require.Equal(t, raised, run.Raised)
	require.Equal(t, incidents, run.Incidents)
	require.Equal(t, firstOut, run.FirstOut)
	require.Positive(t, incidents)
	sums := &run.Summary.Sums
	turned := 0.0
	for _, state := range []machine.State{machine.Starting, machine.Running, machine.Bypassing} {
		turned += sums.InStateS[state.String()]
	}
	require.InDelta(t, 80, turned, 6, "%v", sums.InStateS)
	require.Positive(t, sums.WaterM3)
	require.Positive(t, sums.EnergyJ)
	require.Contains(t, sums.Exposures, engine.InletLow.String())
	require.Positive(t, sums.Raised["inlet_low.warn"])
}

// TestLifeCountsOverBoots: the counters are the engine's own sums of every
// boot, whether it ended well or not, each counted once.
func TestLifeCountsOverBoots(t *testing.T) {
	dir := t.TempDir()
	var water float64
	var starts, frames uint64
	for boot := range 4 {
		s := open(t, dir, Options{})
		r := newRig(t)
		feed(t, s, r, r.take(1500))
		totals := r.s.Totals()
		if boot%2 == 0 {
			require.NoError(t, s.Close())
			water, starts, frames = water+totals.WaterM3, starts+totals.Starts, frames+totals.Frames
			continue
		}
		live, err := s.Life(ctx)
		require.NoError(t, err)
		water, starts, frames = live.WaterM3, live.Starts, live.Frames
		require.InDelta(t, float64(totals.Frames), float64(frames)/float64(boot+1), 310, "half a minute may be missing")
		drop(t, s)
	}
	s := open(t, dir, Options{})
	life, err := s.Life(ctx)
	require.NoError(t, err)
	require.InDelta(t, water, life.WaterM3, 1e-12)
	require.Equal(t, starts, life.Starts)
	require.Equal(t, frames, life.Frames)
	require.NoError(t, s.Close())
}

// TestClockJumps sets the clock a year back and forth in the middle of a run:
// the run is one, its frames are in order, and what is learnt later about the
// time corrects all of it.
func TestClockJumps(t *testing.T) {
	for name, by := range map[string]time.Duration{"back": -365 * 24 * time.Hour, "forth": 365 * 24 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			s := open(t, dir, Options{SealFrames: 150})
			r := newRig(t)
			r.standFor = 0
			ticks := r.take(300)
			r.wall = r.wall.Add(by)
			ticks = append(ticks, r.take(300)...)
			feed(t, s, r, ticks)
			drop(t, s)
			s = open(t, dir, Options{})
			requireFrames(t, &s.view, 1, ticks)
			runs, err := s.ListRuns(ctx, 0)
			require.NoError(t, err)
			require.Len(t, runs, 1, "not torn")
			require.WithinDuration(t, startWall.Add(runs[0].Start), runs[0].StartWall, time.Millisecond)
			seen, err := s.Observations(ctx, 1)
			require.NoError(t, err)
			require.Len(t, seen, 2, "the start and the jump")
			require.Equal(t, ticks[300].t, seen[1].T)

			// In the next boot it is learnt that the second time was right.
			right := r.wall.Add(ticks[599].t)
			require.NoError(t, s.NoteClock(Observation{Boot: 1, T: ticks[599].t, Wall: right, Trust: Synced}))
			runs, err = s.ListRuns(ctx, 0)
			require.NoError(t, err)
			require.WithinDuration(t, r.wall.Add(runs[0].Start), runs[0].StartWall, time.Millisecond)
			wall, ok, err := s.WallAt(ctx, 1, ticks[10].t)
			require.NoError(t, err)
			require.True(t, ok)
			require.WithinDuration(t, r.wall.Add(ticks[10].t), wall, time.Millisecond)
			requireFrames(t, &s.view, 1, ticks)
			_, ok, err = s.WallAt(ctx, 77, 0)
			require.NoError(t, err)
			require.False(t, ok)
			require.ErrorContains(t, s.NoteClock(Observation{}), "year")
			require.NoError(t, s.NoteClock(Observation{T: 5, Wall: right, Trust: ByPerson}))
			seen, err = s.Observations(ctx, 2)
			require.NoError(t, err)
			require.Len(t, seen, 1)
			require.NoError(t, s.Close())
		})
	}
}

// TestFramesWithoutAWallTime come back without one.
func TestFramesWithoutAWallTime(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	k := newRig(t).next()
	require.NoError(t, s.Append(k.t, time.Time{}, &k.raw, &k.v))
	require.NoError(t, s.Append(k.t+1, time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC), &k.raw, &k.v))
	require.NoError(t, s.Sync())
	n := 0
	for got, err := range s.Frames(ctx, RunID{Boot: 1}, 0, 0) {
		require.NoError(t, err)
		require.True(t, got.Wall.IsZero())
		n++
	}
	require.Equal(t, 2, n)
	require.NoError(t, s.Close())
}

// TestUnknownStateEndsNoRun: with no channel to tell, the run goes on.
func TestUnknownStateEndsNoRun(t *testing.T) {
	var r tracker
	r.holdOff = 10 * time.Second
	var totals engine.Totals
	v := engine.Verdicts{Machine: machine.Unknown}
	require.False(t, r.step(1, &v, &totals), "and none is begun")
	v.Machine = machine.Running
	require.True(t, r.step(2, &v, &totals))
	v.Machine = machine.Unknown
	for i := range 100 {
		require.False(t, r.step(time.Duration(i)*time.Second, &v, &totals))
	}
	v.Machine = machine.Stopped
	require.False(t, r.step(109*time.Second, &v, &totals))
	require.True(t, r.step(109*time.Second+1, &v, &totals))
	require.Equal(t, 99*time.Second, r.ended[0].T1)
	v.Machine = machine.Running
	require.True(t, r.step(200*time.Second, &v, &totals))
	require.True(t, r.step(300*time.Second, &v, &totals), "no frames for longer than the hold-off")
	require.Equal(t, 200*time.Second, r.ended[1].T1)
	require.Equal(t, 3, r.row.N)
}
