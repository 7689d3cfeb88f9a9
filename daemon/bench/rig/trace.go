package rig

import (
	"fmt"
	"math/rand/v2"
	"time"

	"headroom/daemon/bench"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// Trace is one bench's truth through a whole plan, step by step, so that many
// tests with other sensors can be run on it.
type Trace struct {
	Truth Truth
	Pump  bench.Pump
	// PowerFactor at the last load step, NPSHRequiredM, and what a person would
	// measure by hand, all true.
	PowerFactor, NPSHRequiredM float64
	Told                       map[bench.Kind]float64
	steps                      map[string][][]Values
}

// Record plays the plan on a bench once. The inlet has one part for each
// position of the valve.
func Record(t Truth, p bench.Pump, plan bench.Plan) (*Trace, error) {
	b, err := NewBench(t, p)
	if err != nil {
		return nil, err
	}
	tr := &Trace{Truth: t, Pump: p, Told: map[bench.Kind]float64{}, steps: map[string][][]Values{}}
	for _, s := range plan.Steps {
		switch s.Kind {
		case bench.Bucket, bench.Cup, bench.Reference:
			tr.Told[s.Kind] = b.Told(s.Kind)
			continue
		}
		for part := range parts(s) {
			tr.steps[s.ID] = append(tr.steps[s.ID], b.play(s))
			if s.Kind == bench.Inlet && part == 0 {
				tr.NPSHRequiredM = b.NPSHRequiredM()
			}
		}
		if s.Kind == bench.Load {
			tr.PowerFactor = b.PowerFactor()
		}
	}
	return tr, nil
}

func parts(s bench.Step) int {
	if s.Kind == bench.Inlet {
		return len(inletShares) + 1
	}
	return 1
}

// play sets a step and returns the truth of its frames once the person is
// content.
func (b *Bench) play(s bench.Step) []Values {
	b.Begin(s)
	for range 900 {
		if b.Advance(); b.Settled() {
			break
		}
	}
	var out []Values
	for range int(s.WindowS*10) + 45 {
		b.Advance()
		out = append(out, b.Values())
	}
	return out
}

// Test is one test on a trace.
type Test struct {
	Record *bench.Record
	// True is the record that perfect sensors and hands would have made.
	True *bench.Record
}

// Hands are how far a person's own measurements may be off, as shares of the
// value and, for the cup, at least this much in m3/s.
const (
	bucketHalf    = 0.008
	referenceHalf = 0.005
	cupHalf       = 0.03
	cupLeast      = 1e-9
)

// Run leads one session through a trace. setup's pump gets a power factor that
// is off by no more than it states.
func (t *Trace) Run(setup bench.Setup, sensors *Sensors, rng *rand.Rand) (*Test, error) {
	setup.Pump.PowerFactor = t.PowerFactor + setup.Pump.PowerFactorError*(2*rng.Float64()-1)
	s, err := bench.NewSession(setup)
	if err != nil {
		return nil, err
	}
	p := player{t: t, s: s, sensors: sensors, rng: rng, wall: setup.Began}
	for !s.Done() {
		if err := p.step(); err != nil {
			return nil, err
		}
	}
	rec := s.Record()
	return &Test{rec, p.truth(rec)}, nil
}

// player feeds a session from a trace.
type player struct {
	t       *Trace
	s       *bench.Session
	sensors *Sensors
	rng     *rand.Rand
	now     time.Duration
	wall    time.Time
	times   []time.Duration
	log     []Values
	inlet   int
}

func (p *player) step() error {
	step, _ := p.s.Step()
	wall := p.wall.Add(p.now)
	switch step.Kind {
	case bench.Bucket, bench.Reference, bench.Cup:
		return p.tell(step.Kind, wall)
	}
	part := 0
	if step.Kind == bench.Inlet {
		part, p.inlet = p.inlet, p.inlet+1
	}
	all := p.t.steps[step.ID]
	if part >= len(all) {
		return p.s.Skip("the valve is closed as far as it goes", wall)
	}
	if err := p.s.Ready(); err != nil {
		return err
	}
	// A person needs a moment between two steps.
	p.now += 5 * time.Second
	p.sensors.Pass()
	var f frame.Frame
	for i := range all[part] {
		v := &all[part][i]
		p.now += Tick
		p.sensors.Read(v, &f)
		p.times, p.log = append(p.times, p.now), append(p.log, *v)
		if p.s.Feed(bench.Input{T: p.now, Wall: p.wall.Add(p.now), Samples: f.Samples}) {
			return nil
		}
	}
	if now, ok := p.s.Step(); ok && now.ID == step.ID && step.Kind != bench.Inlet {
		return p.s.Skip("cannot be had: "+p.s.View(units.SI).Waiting, p.wall.Add(p.now))
	}
	return nil
}

func (p *player) tell(k bench.Kind, wall time.Time) error {
	v := p.t.Told[k]
	half := map[bench.Kind]float64{bench.Bucket: bucketHalf * v, bench.Reference: referenceHalf * v, bench.Cup: max(cupHalf*v, cupLeast)}[k]
	if half <= 0 {
		return fmt.Errorf("the bench has no true value of %s", k)
	}
	return p.s.Enter(max(v+half*(2*p.rng.Float64()-1), 0), half, wall)
}

// truth is the same record with true means, slopes and entries.
func (p *player) truth(rec *bench.Record) *bench.Record {
	out := *rec
	out.Pump.PowerFactor = p.t.PowerFactor
	out.Points = nil
	for _, pt := range rec.Points {
		pt.Readings = p.readings(&pt)
		out.Points = append(out.Points, pt)
	}
	out.Entries = nil
	for _, e := range rec.Entries {
		e.Value = p.t.Told[e.Kind]
		out.Entries = append(out.Entries, e)
	}
	return &out
}

// readings are the true means and slopes over a point's window.
func (p *player) readings(pt *bench.Point) []bench.Reading {
	lo, hi := 0, len(p.times)
	for lo < hi && p.times[lo] < pt.From {
		lo++
	}
	for hi > lo && p.times[hi-1] > pt.To {
		hi--
	}
	n := float64(hi - lo)
	var out []bench.Reading
	for _, r := range pt.Readings {
		c, _ := frame.ByName(r.Channel)
		mid := (p.times[lo] + p.times[hi-1]).Seconds() / 2
		var mean, tt, tx float64
		for i := lo; i < hi; i++ {
			dt := p.times[i].Seconds() - mid
			mean += p.log[i][c] / n
			tt += dt * dt
			tx += dt * p.log[i][c]
		}
		out = append(out, bench.Reading{Channel: r.Channel, Mean: mean, Effective: n, N: int(n), Slope: tx / tt})
	}
	return out
}
