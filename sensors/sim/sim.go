package sim

import (
	"context"
	"fmt"
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/plant"
	"headroom/sensors/scenario"
)

// Options says what to simulate.
type Options struct {
	// Scenario to play; required.
	Scenario *scenario.Scenario
	// Channels that are fitted; nil for DefaultChannels of the scenario.
	Channels []frame.Channel
	// Loop starts the scenario anew when it ends. Without it the machine stays
	// as the end has left it, and the sensors go on reading.
	Loop bool
	// Noiseless takes the noise from every sensor and leaves its delays and its
	// steps: what a perfect specimen of the same sensor would read.
	Noiseless bool
	// Speed of Run against the clock: 1 (or 0) is real time, 10 ten times as
	// fast. Up to MaxSpeed.
	Speed float64
}

// MaxSpeed is the fastest that Run may be asked for.
const MaxSpeed = 1000.0

// step is the plant's time step.
const step = 10 * time.Millisecond

// Sim is a simulated machine. It is not safe for use by several goroutines:
// either Run or Advance drives it.
type Sim struct {
	opt     Options
	plant   *plant.Plant
	state   plant.State
	in      plant.Inputs
	now     time.Duration // since the simulator's start, over all loops
	began   time.Duration // when the present loop began
	sensors []sensor
	names   []frame.Channel
}

// DefaultChannels are what a scenario's machine carries where nobody chooses:
// all but a second place of vibration, the motor's temperature and a
// barometer; a tank's level with a tank; nothing electric with an engine.
func DefaultChannels(s *scenario.Scenario) []frame.Channel {
	engine := s.Machine.Drive.Kind == plant.Engine
	var out []frame.Channel
	for c := range frame.NumChannels {
		switch c {
		case frame.Vibration2, frame.MotorTemp, frame.AirPressure:
			continue
		case frame.TankLevel:
			if s.Machine.Supply.TankM3 <= 0 {
				continue
			}
		case frame.MotorCurrent, frame.SupplyVoltage, frame.PowerPresent:
			if engine {
				continue
			}
		}
		out = append(out, c)
	}
	return out
}

// New makes a simulator that stands at the start of its scenario.
func New(opt Options) (*Sim, error) {
	if opt.Scenario == nil {
		return nil, fmt.Errorf("the simulator has no scenario: give it one")
	}
	if opt.Speed == 0 {
		opt.Speed = 1
	}
	if !(opt.Speed > 0 && opt.Speed <= MaxSpeed) {
		return nil, fmt.Errorf("the simulator can't run at %v times real time: give a speed above 0 and up to %v", opt.Speed, MaxSpeed)
	}
	p, err := plant.New(opt.Scenario.Machine)
	if err != nil {
		return nil, fmt.Errorf("cannot simulate %s: %w", opt.Scenario.Name, err)
	}
	s := &Sim{opt: opt, plant: p, names: opt.Channels}
	if s.names == nil {
		s.names = DefaultChannels(opt.Scenario)
	}
	for _, c := range s.names {
		if c >= frame.NumChannels {
			return nil, fmt.Errorf("the simulator can't feed %s: choose among the known channels", c)
		}
		s.sensors = append(s.sensors, newSensor(c, opt.Scenario.Seed))
	}
	s.restart()
	return s, nil
}

// restart puts the plant to the start of the scenario. The sensors go on.
func (s *Sim) restart() {
	s.began = s.now
	s.opt.Scenario.Inputs(0, &s.in)
	s.state = s.plant.Start(&s.in)
}

// Name returns the driver's name.
func (s *Sim) Name() string { return "simulator (" + s.opt.Scenario.Title + ")" }

// Channels lists the channels it feeds.
func (s *Sim) Channels() []frame.Channel { return s.names }

// State returns the true state of the plant, which no sensor shows: for tests
// and for measuring how early an alarm was.
func (s *Sim) State() *plant.State { return &s.state }

// Truth returns what a perfect sensor would read at this moment, and the
// standard deviation of the noise that this machine's sensor adds to one
// reading. Both are in the channel's unit; a channel that isn't fed has a truth
// too.
func (s *Sim) Truth(c frame.Channel) (value, noise float64) {
	if c >= frame.NumChannels {
		return 0, 0
	}
	v := truth(c, s.plant, &s.state, &s.in)
	return v, sigma(c, v, s.plant, &s.state)
}

// Inputs returns what people and faults do to the machine at this moment.
func (s *Sim) Inputs() *plant.Inputs { return &s.in }

// Now returns how far the simulation has come.
func (s *Sim) Now() time.Duration { return s.now }

// Advance simulates up to the time to, since the simulator's start, and posts
// the readings on the way, each At its time on that scale. A time that is
// already past does nothing.
func (s *Sim) Advance(to time.Duration, post func(sensors.Reading)) {
	for s.now+step <= to {
		s.tick(post)
	}
}

func (s *Sim) tick(post func(sensors.Reading)) {
	if s.opt.Loop && s.now-s.began >= s.opt.Scenario.Duration {
		s.restart()
	}
	s.now += step
	at := s.now - s.began
	s.opt.Scenario.Inputs(at, &s.in)
	s.plant.Step(&s.state, &s.in, step.Seconds())
	for i := range s.sensors {
		s.sensors[i].tick(s, at, post)
	}
}

// The pace of Run.
const (
	wake = 20 * time.Millisecond
	// maxLag is how far behind the clock Run catches up. Beyond it, as after
	// the computer slept, the scenario goes on from where it stood.
	maxLag = 2 * time.Second
)

// Run plays the scenario against the clock until ctx ends. Readings carry the
// clock's time of their measurement.
func (s *Sim) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	ticker := time.NewTicker(wake)
	defer ticker.Stop()
	real, simulated := clock(), s.now // one moment on both scales
	stamp := func(r sensors.Reading) {
		r.At = real + time.Duration(float64(r.At-simulated)/s.opt.Speed)
		post(r)
	}
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-ticker.C:
		}
		now := clock()
		if lag := now - real - time.Duration(float64(s.now-simulated)/s.opt.Speed); lag > maxLag {
			real, simulated = now, s.now
		}
		s.Advance(simulated+time.Duration(float64(now-real)*s.opt.Speed), stamp)
	}
}

var _ sensors.Driver = (*Sim)(nil)
