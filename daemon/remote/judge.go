package remote

import (
	"context"

	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/daemon/rerun"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/machine"
)

// judge runs one boot's frames through the engine again, from where the live
// engine began and with what people did: headroom and counters are made of the
// same numbers that the machine's own pages showed. Without the config in force
// there is no engine, and then there is no headroom to send.
type judge struct {
	cfg    *config.Config
	kept   *snapshot.Kept
	engine *engine.Engine
	state  engine.State
	acts   []replay.Act
	// done is how many of the acts the engine has had.
	done int
	v    *engine.Verdicts
}

// newJudge reads how a boot began. A config that the record doesn't hold or
// that this version can't read leaves the boot unjudged; the error is for
// what may go better next time.
func newJudge(ctx context.Context, r Record, info *store.Info) (*judge, error) {
	j := &judge{}
	text, ok, err := r.Config(ctx, info.ConfigHash)
	if err != nil {
		return nil, err
	}
	if !ok {
		return j, nil
	}
	cfg, problems := config.Parse("record", text)
	if len(config.Mistakes(problems)) > 0 {
		return j, nil
	}
	j.cfg = cfg
	if len(info.Kept) > 0 {
		if k, err := snapshot.DecodeKept(info.Kept); err == nil {
			j.kept = &k
		}
	}
	return j, nil
}

// refresh reads the acts anew: people go on acting while a boot lasts.
func (j *judge) refresh(ctx context.Context, r Record, boot uint64) (err error) {
	if j.cfg != nil {
		j.acts, err = rerun.Acts(ctx, r, boot)
	}
	return err
}

// step judges one frame; nil where nothing can be judged. What it returns holds
// until the next step.
func (j *judge) step(tick *store.Tick) *engine.Verdicts {
	if j.cfg == nil {
		return nil
	}
	if j.engine == nil {
		e, err := engine.New(replay.FitTo(j.cfg.Engine, replay.Fitted(&tick.Frame)))
		if err != nil {
			j.cfg = nil
			return nil
		}
		j.engine = e
		if j.kept != nil {
			j.state.Restore(j.kept)
		}
	}
	for ; j.done < len(j.acts) && j.acts[j.done].T < tick.T; j.done++ {
		a := &j.acts[j.done]
		j.engine.Do(&j.state, a.Alarm, a.Act, a.T, a.Shelf) // what meant nothing then means nothing now
	}
	j.v = j.engine.Step(&j.state, &tick.Frame, tick.T)
	return j.v
}

// sums are the boot's counters so far.
func (j *judge) sums() store.Sums {
	var out store.Sums
	if j.engine == nil {
		return out
	}
	t := j.state.Totals()
	out.Starts, out.WaterM3, out.FlowS, out.EnergyJ = t.Starts, t.WaterM3, t.FlowS, t.EnergyJ
	out.InStateS, out.Raised, out.Exposures = map[string]float64{}, map[string]uint64{}, map[string]store.ExposureSums{}
	for st, s := range t.InStateS {
		if s > 0 {
			out.InStateS[machine.State(st).String()] = s
		}
	}
	for a, n := range t.Raised {
		if n > 0 {
			out.Raised[engine.AlarmID(a).String()] = n
		}
	}
	for r := range t.Exposures {
		x := &t.Exposures[r]
		e := store.ExposureSums{BeyondWarnS: x.BeyondWarnS, BeyondActS: x.BeyondActS, WatchedS: x.WatchedS, BlindS: x.BlindS}
		if e != (store.ExposureSums{}) {
			out.Exposures[engine.RuleID(r).String()] = e
		}
	}
	return out
}
